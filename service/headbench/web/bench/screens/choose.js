// Choosing springs: one button has the service find the best place for every spring; the moves stand in their order.

import { lateLine, wholeTold } from "../answer.js";
import { button, el } from "../dom.js";
import { change, edit, record } from "../job.js";
import { shown, unitOf } from "../numbers.js";
import { asked } from "../saving.js";
import { UNITS } from "../words.js";
import { problemBox } from "./problem.js";

const WISH = ["job", "match_springs"];

/** Codes of notes that are about a match. */
const ABOUT = ["match_", "spring_not_matched", "spring_weak", "springs_short", "position_left_empty"];

export function chooseScreen() {
  const body = el("div", {});
  const update = () => body.replaceChildren(...parts(record()));
  update();
  const node = el("div", {}, el("h1", { tabindex: "-1" }, "Choose springs"), body);
  return { title: "Choose springs", node, update, back: `#/job/${record().id}` };
}

function parts(kept) {
  const wish = kept.job.match_springs;
  if (!wish) {
    return [
      problemBox(kept),
      el("p", {}, "Every measured valve gets the spring and the shims that bring its seat load nearest to the one wanted, coils kept apart. Springs that were not tested, or whose coil bind was not measured, are left out."),
      button("Choose springs and shims", () => change([edit(WISH, {})]), { class: "act main" }),
    ].filter(Boolean);
  }
  const found = kept.answer?.spring_matching;
  return [
    problemBox(kept),
    lateLine(kept),
    ...(found && kept.answered >= kept.revision ? matchParts(kept, found) : [el("p", {}, "No choice yet; it comes when the service is reached.")]),
    button("Leave every spring where it lies", () => change([edit(WISH, undefined)]), { class: "act" }),
  ].filter(Boolean);
}

function matchParts(kept, found) {
  const length = unitOf(kept.job, "length");
  const force = unitOf(kept.job, "force");
  const notes = kept.answer.notes.filter((one) => ABOUT.some((code) => one.code.startsWith(code)));
  return [
    el("p", {}, el("b", {}, wholeTold(kept.answer))),
    el("p", { class: "lay" }, better("Farthest off", found.worst_deviation, found.worst_deviation_before, force)),
    ...["intake", "exhaust"].filter((kind) => found[kind]?.seat_load.count).map((kind) =>
      el("p", {}, better(`Spread, ${kind}`, found[kind].seat_load.spread, found[kind].seat_load_before.spread, force))),
    ...(found.moves.length
      ? [el("h2", {}, "Moves, in this order"), el("ol", { class: "moves" }, found.moves.map((move) => el("li", {}, moveTold(move, length))))]
      : [el("p", {}, "No spring has to move.")]),
    el("h2", {}, "Shims to lay"),
    el("ul", {}, found.positions.filter((line) => line.spring).map((line) => el("li", {}, el("b", {}, line.id), `: ${line.spring}, ${shimsTold(line.shims, length)}`))),
    notes.length ? el("h2", {}, "Found") : null,
    notes.length ? el("ul", {}, notes.map((one) => el("li", {}, one.detail))) : null,
    found.moves.length ? button("All are moved", () => moved(kept, found), { class: "act main" }) : null,
    el("p", {}, kept.answer.cautions[0]),
  ].filter(Boolean);
}

function better(what, now, before, force) {
  if (now === null) return `${what}: nothing could be matched.`;
  const was = before === null ? "" : `, ${shown(before, force)} as they lie`;
  return `${what}: ${shown(now, force)} ${UNITS[force] ?? force}${was}.`;
}

function moveTold(move, length) {
  if (move.to_position === null) return [el("b", {}, move.spring), `: from ${move.from_position} to the bench`];
  return [el("b", {}, move.spring), `: from ${move.from_position ?? "the bench"} to `, el("b", {}, move.to_position), `, ${shimsTold(move.shims, length)}`];
}

function shimsTold(shims, length) {
  return shims.length ? `shims ${shims.map((one) => shown(one, length)).join(" + ")}` : "no shims";
}

async function moved(kept, found) {
  const isSo = await asked("Does every spring lie where the moves put it? The job then says so.", ["Not yet", false], ["Yes", true]);
  if (isSo) await change(asMoved(kept, found));
}

/** The job once every spring lies where it was matched to; only shims are chosen from then on. */
function asMoved(kept, found) {
  const after = new Map(found.positions.map((line) => [line.id, line.spring]));
  const taken = new Set(after.values());
  const springs = kept.job.positions.map(({ id, spring }) => after.get(id) ?? (taken.has(spring) ? undefined : spring));
  const edits = springs.map((spring, place) => edit(["job", "positions", place, "spring"], spring));
  const lying = kept.job.positions.map(({ id }) => id).filter((_, place) => springs[place] !== undefined);
  return [...edits, edit(WISH, { ...kept.job.match_springs, kept: lying })];
}
