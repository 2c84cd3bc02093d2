// What the service answered of one valve, in sentences: shims to lay, what it pushes, what is left, what is next.

import { el } from "./dom.js";
import { badge } from "./drawing.js";
import { shown, unitOf, withUnit } from "./numbers.js";
import { CHECKS, VERDICTS, listed } from "./words.js";

const MOST_NAMED = 3;

/** The line of a position in the answer; undefined where the service has not answered of it yet. */
export function lineOf(kept, id) {
  return kept.answer?.positions.find((line) => line.id === id);
}

/** The state of a position as the drawing shows it: what is off already shows over what is still open. */
export function stateOf(kept, id) {
  const line = lineOf(kept, id);
  return line ? stateOfLine(line) : "waiting";
}

function stateOfLine(line) {
  return line.verdict === "not_measured" && isOff(line) ? "off" : line.verdict;
}

/** Whether a check of a position that counts has missed its limit. */
function isOff(line) {
  const checks = Object.keys(CHECKS).map((name) => line[name]);
  return checks.some((check) => check?.counts_toward_verdict && ["borderline", "reject"].includes(check.verdict));
}

/** The word of a position's state; where something is off already, how much is still open with it. */
export function wordOf(kept, id) {
  const state = stateOf(kept, id);
  return state === "off" ? `off, ${openItemsOf(kept, lineOf(kept, id)).length} open` : VERDICTS[state].word;
}

/** What is still open of a position: its own items, and those of its spring. */
export function openItemsOf(kept, line) {
  const place = kept.answer.positions.indexOf(line);
  return kept.answer.open_items.filter((item) => {
    const isOwn = item.position === line.id || item.pointer.startsWith(`/positions/${place}/`);
    const isItsKind = item.pointer.includes(`/${line.valve}`) && !item.position && !item.spring;
    return isOwn || (item.spring !== null && item.spring === line.spring && !item.position) || isItsKind;
  });
}

/** What was found about a position or its spring. */
export function notesOf(kept, line) {
  const place = kept.answer.positions.indexOf(line);
  const spring = (kept.job.springs ?? []).findIndex((one) => one.id === line.spring);
  const about = [`/positions/${place}`, `/springs/${spring}`];
  const isAbout = ({ pointer, detail }) => about.some((one) => `${pointer}/`.startsWith(`${one}/`)) || detail.startsWith(`${line.id}: `);
  return kept.answer.notes.filter(isAbout);
}

/** The card that stands above the next reading; `late` what its readings wait for, if they do. */
export function answerCard(kept, id, { compares = false, late = null, doubt = undefined, isBelieved = false, label = id } = {}) {
  const line = lineOf(kept, id);
  if (!line || late) return lateCard(id, late);
  if (doubt && !isBelieved) return doubtCard(label, plainly(doubt.detail, id, line.spring));
  const [first, ...others] = openItemsOf(kept, line);
  const more = others.length ? ` And ${others.length} more.` : "";
  return el(
    "div",
    { class: `card is-${stateOf(kept, id)}` },
    el("h2", {}, line.id, " ", badge(stateOf(kept, id), wordOf(kept, id))),
    ...(doubt ? [el("p", { class: "fault" }, plainly(doubt.detail, id, line.spring))] : headline(kept, line, compares)),
    ...notesOf(kept, line).filter((note) => note !== doubt && !isStackLimit(note, line)).map((note) => el("p", { class: "note" }, plainly(note.detail, line.id))),
    ...facts(kept, line).map((fact) => el("p", {}, fact)),
    first ? el("p", { class: "next" }, el("b", {}, "Also open: "), first.detail.replace(`${line.id}: `, ""), more) : null,
  );
}

/** What to do at the valve, largest: what to lay, or how the height came out; where no stack will do, what would. */
function headline(kept, line, compares) {
  const [full] = kept.answer.notes.filter((note) => isStackLimit(note, line));
  return [
    compares ? comparison(kept, line) : el("p", { class: "lay" }, layShims(kept, line)),
    full ? el("p", { class: "next" }, full.detail.split(". ").at(-1)) : null,
  ];
}

function isStackLimit({ code, detail }, line) {
  return code === "stack_limit_reached" && detail.startsWith(`${line.id}: `);
}

/** What stands there while the last reading is in doubt: no shims to lay by it. */
function doubtCard(label, detail) {
  return el("div", { class: "card is-reject" }, el("h2", {}, `${label}: read again?`), el("p", { class: "fault" }, detail));
}

/** A sentence where the names it begins with stand above it already. */
function plainly(detail, ...names) {
  const name = names.flatMap((one) => [`${one}: `, `Spring ${one}: `]).find((one) => detail.startsWith(one));
  const text = name ? detail.slice(name.length) : detail;
  return text[0].toUpperCase() + text.slice(1);
}

/** What stands there while there is no answer: an old one would pass for that of the reading just taken. */
function lateCard(id, late) {
  const words = late ? `Kept on this phone. Worked out when ${late}.` : "No answer yet; it comes when the service is reached.";
  return el("div", { class: "card is-waiting" }, el("h2", {}, id, " ", badge("waiting")), el("p", { class: "late" }, words));
}

/** A line that tells what the answer shown does not hold yet; null where it holds everything. */
export function lateLine(kept) {
  if (kept.answered >= kept.revision || !kept.answer) return null;
  return el("p", { class: "late" }, "What was entered last is not figured in yet.");
}

/** The cautions of the work, as the service gives them; those of the `tool` at hand first. */
export function cautions(kept, tool = "") {
  if (!kept.answer) return null;
  const isOfTool = (one) => tool && one.includes(tool);
  const inOrder = [...kept.answer.cautions.filter(isOfTool), ...kept.answer.cautions.filter((one) => !isOfTool(one))];
  return el("ul", { class: "cautions" }, inOrder.map((one) => el("li", {}, one)));
}

/** The shims to lay, in one sentence. */
export function layShims(kept, line) {
  const unit = unitOf(kept.job, "length");
  if (line.shim_stack === null) return "Shims: not known yet.";
  if (kept.answer.notes.some((note) => isStackLimit(note, line))) return `${shown(line.shim_needed, unit)} of shim needed, ${shown(line.shim_stack, unit)} is the most.`;
  if (line.short_by > 0) return `No shim: ${withUnit(line.short_by, unit)} short of height.`;
  if (line.shims.length === 0) return "No shim.";
  return `Lay ${line.shims.map((one) => shown(one, unit)).join(" + ")}`;
}

function facts(kept, line) {
  const length = unitOf(kept.job, "length");
  const force = unitOf(kept.job, "force");
  const found = [];
  if (line.installed_height !== null) {
    const wanted = line.target_height === null ? "" : `, ${shown(line.target_height, length)} wanted`;
    found.push(`Stands ${withUnit(line.installed_height, length)}${wanted}.`);
  }
  if (line.seat_load !== null) {
    const open = line.open_load === null ? "" : `, ${shown(line.open_load, force)} open`;
    found.push(`Pushes ${withUnit(line.seat_load, force)} closed${open}.`);
  }
  found.push(...margin(line.coil_bind_clearance_check, length, "Coil-bind clearance"));
  found.push(...margin(line.retainer_to_seal_clearance_check, length, "Seal clearance"));
  return found;
}

function margin(check, unit, where) {
  if (check.value === null) return [];
  const spare = shown(Math.abs(check.to_spare), unit);
  return [`${where} ${withUnit(check.value, unit)}, ${spare} ${check.to_spare < 0 ? "too little" : "to spare"}.`];
}

function comparison(kept, line) {
  const unit = unitOf(kept.job, "length");
  if (line.figured_height === null || line.height_with_shims === null) {
    return el("p", { class: "lay" }, `Figured ${shown(line.figured_height, unit)}`);
  }
  const by = line.height_with_shims - line.figured_height;
  const told = Math.abs(by) < 1e-9 ? "the same" : `${shown(Math.abs(by), unit)} ${by > 0 ? "taller" : "shorter"}`;
  return el("p", { class: "lay" }, `Figured ${shown(line.figured_height, unit)}, stands ${shown(line.height_with_shims, unit)}: ${told}`);
}

/** How many valves came to what, in words, and which are not fitted. */
export function countsTold({ positions, not_fitted: empty = [] }) {
  const states = positions.map(stateOfLine);
  const counted = Object.entries(VERDICTS).map(([state, { word }]) => [states.filter((one) => one === state).length, word]);
  const words = counted.filter(([count]) => count > 0).map(([count, word]) => `${count} ${word}`);
  if (empty.length) words.push(`${empty.length} not fitted: ${empty.join(", ")}`);
  return words.join(", ");
}

/** What a whole head comes to, in a sentence: never more than was fitted and measured. */
export function wholeTold(answer) {
  const { not_fitted: empty = [], positions } = answer;
  if (answer.verdict !== "accept") return VERDICTS[wholeState(answer)].told;
  if (positions.some((line) => line.height_with_shims === null)) return "Good as figured: measure heights with shims in";
  return empty.length ? "Good, all that is fitted" : VERDICTS.accept.told;
}

/** The state of a whole head, as of one position. */
export function wholeState({ verdict, positions }) {
  return verdict === "not_measured" && positions.some(isOff) ? "off" : verdict;
}

/** Which valves to look at first: those where something is wrong, the worst before the others; empty where nothing is. */
export function firstTold({ worst_positions: worst, positions }) {
  const wrong = positions.filter((line) => line.verdict !== "accept" && (line.verdict === "reject" || isOff(line))).map(({ id }) => id);
  const inOrder = [...worst.filter((id) => wrong.includes(id)), ...wrong.filter((id) => !worst.includes(id))];
  return inOrder.length ? ` Look at ${listed(inOrder.slice(0, MOST_NAMED))} first.` : "";
}
