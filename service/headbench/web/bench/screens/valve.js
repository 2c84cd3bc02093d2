// One valve: every reading of it and of its spring to correct, every check, what was found, the curve of its spring.

import { lateLine, layShims, lineOf, notesOf, openItemsOf, stateOf, wordOf } from "../answer.js";
import { springCurve } from "../curve.js";
import { badge } from "../drawing.js";
import { button, el } from "../dom.js";
import { edit, record } from "../job.js";
import { places } from "../layout.js";
import { limitTold } from "../limits.js";
import { readingShown, unitOf, withUnit } from "../numbers.js";
import { PASSES, positionOf, readingOf } from "../passes.js";
import { save } from "../saving.js";
import { CHECKS } from "../words.js";
import { problemBox } from "./problem.js";

const NEW = "\u0000";

export function valveScreen({ position: id }) {
  const body = el("div", {});
  const node = el("div", {}, el("h1", { tabindex: "-1" }, id), body);
  let shownOf = "";
  function update() {
    const kept = record();
    // a curve that is drawn stays until something it rests on changes, and what is being typed stays
    const now = `${kept.revision} ${kept.answered}`;
    if (now === shownOf || document.activeElement?.id === "remarks") return;
    body.replaceChildren(...parts(kept, id));
    shownOf = now;
  }
  update();
  return { title: id, node, update, back: `#/job/${record().id}` };
}

function parts(kept, id) {
  const place = places(kept).find((one) => one.position.id === id);
  if (!place) return [el("p", {}, "There is no such valve in this job.")];
  const { position, isEmpty } = place;
  if (isEmpty) return [el("p", {}, badge("empty")), button("Fitted after all", () => fit(kept, position), { class: "act" })];
  const line = lineOf(kept, id);
  return [
    problemBox(kept),
    lateLine(kept),
    el(
      "div",
      { class: `verdict is-${stateOf(kept, id)}` },
      el("p", { class: "whole" }, badge(line ? stateOf(kept, id) : "waiting", line ? wordOf(kept, id) : undefined), position.valve),
      line ? el("p", { class: "lay" }, layShims(kept, line)) : null,
    ),
    ...(line ? found(kept, line) : []),
    el("h2", {}, "Readings"),
    el("ul", { class: "readings" }, readings(kept, position)),
    line ? el("h2", {}, "Checks") : null,
    line ? checks(kept, line) : null,
    springCurve(kept, position.spring, line),
    el("h2", {}, "Change"),
    swap(kept, position),
    remarks(position),
    kept.job.positions.length > 1 ? button("Not fitted: leave this valve out", () => leaveOut(kept, position)) : null,
  ].filter(Boolean);
}

function found(kept, line) {
  const items = openItemsOf(kept, line).map((item) => el("li", { class: "next" }, item.detail));
  const notes = notesOf(kept, line).map((note) => el("li", { class: "note" }, note.detail));
  return items.length + notes.length ? [el("ul", { class: "found" }, [...notes, ...items])] : [];
}

function readings(kept, position) {
  const base = `#/job/${kept.id}/pass`;
  return PASSES.flatMap((pass) =>
    pass
      .steps(kept)
      .filter((step) => positionOf(kept, step)?.id === position.id)
      .filter((step) => kept.aside.passes.includes(pass.key) || readingOf(kept, step) !== undefined)
      .map((step) => {
        const reading = readingOf(kept, step);
        const value = reading === undefined ? "not measured" : `${readingShown(reading, step.unit)}\u00a0${step.unit}`;
        const at = step.at ? ` ${withUnit(step.at, unitOf(kept.job, "length"))}` : "";
        return el(
          "li",
          {},
          el("a", { class: "act", href: `${base}/${pass.key}/${encodeURIComponent(step.key)}` }, el("span", {}, `${step.what}${at}`), el("b", {}, value)),
        );
      }),
  );
}

function checks(kept, line) {
  const rows = Object.entries(CHECKS)
    .filter(([name]) => line[name])
    .map(([name, { name: told, quantity }]) => {
      const check = line[name];
      const unit = unitOf(kept.job, quantity);
      const limit = limitTold(kept.job, name, check);
      const verdict = check.counts_toward_verdict ? badge(check.verdict) : "for information";
      return el("tr", {}, el("th", { scope: "row" }, told, el("small", {}, limit)), el("td", {}, withUnit(check.value, unit)), el("td", {}, verdict));
    });
  const heads = ["Check", "Value", "Verdict"].map((name) => el("th", { scope: "col" }, name));
  return el("table", { class: "checks" }, el("thead", {}, el("tr", {}, heads)), el("tbody", {}, rows));
}

/** Springs move between pockets: the one that was here goes where the other comes from. */
function swap(kept, position) {
  const springs = (kept.job.springs ?? []).map(({ id }) => id);
  const apart = Object.values(kept.aside.leftOut ?? {}).flatMap(({ spring }) => spring?.id ?? []);
  const holder = (spring) => kept.job.positions.find((one) => one.spring === spring)?.id;
  const options = springs.map((id) => el("option", { value: id, selected: id === position.spring }, holder(id) ? `${id}, now in ${holder(id)}` : id));
  const none = position.spring ? null : el("option", { value: "" }, "none yet");
  const another = el("option", { value: NEW }, "another spring");
  const choose = el("select", { id: "spring", on: { change: () => put(choose.value) } }, none, options, another);

  async function put(chosen) {
    const spring = chosen === NEW ? freeName([...springs, ...apart]) : chosen;
    const other = holder(spring);
    const edits = [edit(["job", "positions", position.id, "spring"], spring)];
    if (chosen === NEW) edits.unshift(edit(["job", "springs"], [...(kept.job.springs ?? []), { id: spring }]));
    if (other && other !== position.id) edits.push(edit(["job", "positions", other, "spring"], position.spring));
    await save(edits);
  }

  return el("div", { class: "one" }, el("label", { for: "spring" }, "Spring in this pocket"), choose);
}

function freeName(taken) {
  let number = taken.length + 1;
  const letter = /^\D*/.exec(taken.at(-1) ?? "S")[0] || "S";
  while (taken.includes(`${letter}${number}`)) number += 1;
  return `${letter}${number}`;
}

function remarks(position) {
  const path = ["job", "positions", position.id, "remarks"];
  const field = el("input", {
    id: "remarks",
    value: position.remarks ?? "",
    maxlength: 500,
    on: { change: () => save([edit(path, field.value.trim().replace(/\s+/g, " ") || undefined)]) },
  });
  return el("div", { class: "one" }, el("label", { for: "remarks" }, "Remarks"), field);
}

/** Take a valve out of the job: named there as not fitted, its readings and its spring kept beside it until it is. */
function leaveOut(kept, position) {
  const place = places(kept).findIndex((one) => one.position.id === position.id);
  const left = kept.job.positions.filter((one) => one.id !== position.id);
  const isShared = left.some((one) => one.spring === position.spring);
  const spring = isShared ? undefined : kept.job.springs?.find((one) => one.id === position.spring);
  const { id, valve, bank } = position;
  return save([
    edit(["job", "positions"], left),
    edit(["job", "not_fitted"], [...(kept.job.not_fitted ?? []), { id, valve, ...(bank && { bank }), place }]),
    edit(["aside", "leftOut"], { ...kept.aside.leftOut, [id]: { position, spring } }),
    ...(spring ? [edit(["job", "springs"], kept.job.springs.filter((one) => one !== spring))] : []),
  ]);
}

function fit(kept, position) {
  const others = kept.job.not_fitted.filter((one) => one.id !== position.id);
  const back = places(kept).filter((one) => !one.isEmpty || one.position.id === position.id);
  const { [position.id]: own, ...leftOut } = kept.aside.leftOut ?? {};
  const springs = kept.job.springs ?? [];
  const isBack = own?.spring && !springs.some((one) => one.id === own.spring.id);
  return save([
    edit(["job", "positions"], back.map((one) => one.position)),
    edit(["job", "not_fitted"], others.length ? others : undefined),
    edit(["aside", "leftOut"], leftOut),
    ...(isBack ? [edit(["job", "springs"], [...springs, own.spring])] : []),
  ]);
}
