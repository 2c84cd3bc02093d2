// The sheet to print: every valve with its readings, shims, loads and verdict; what is open, what was found, cautions.

import { countsTold, firstTold, lateLine, layShims, stateOf, wholeState, wholeTold, wordOf } from "../answer.js";
import { badge, mark } from "../drawing.js";
import { button, el } from "../dom.js";
import { record } from "../job.js";
import { places } from "../layout.js";
import { limitsTold, wantedTold } from "../limits.js";
import { shown, unitOf } from "../numbers.js";
import { UNITS } from "../words.js";
import { onTrust } from "../trust.js";
import { problemBox } from "./problem.js";

export function sheetScreen() {
  const body = el("div", { class: "sheet" });
  const update = () => body.replaceChildren(...parts(record()));
  update();
  const node = el("div", {}, el("p", { class: "row no-print" }, button("Print", () => print(), { class: "act main" })), body);
  return { title: "Sheet", node, update, back: `#/job/${record().id}` };
}

function parts(kept) {
  const { answer, job } = kept;
  const title = el("h1", { tabindex: "-1" }, ["Assembly sheet", job.job?.reference].filter(Boolean).join(" "));
  if (!answer) return [title, el("p", {}, "No answer yet; it comes when the service is reached.")];
  const length = unitOf(job, "length");
  const force = unitOf(job, "force");
  return [
    title,
    problemBox(kept),
    lateLine(kept),
    el("p", {}, [job.job?.customer, job.job?.engine].filter(Boolean).join(" · ")),
    el(
      "div",
      { class: `verdict is-${wholeState(answer)}` },
      el("p", { class: "whole" }, mark(wholeState(answer)), el("b", {}, wholeTold(answer))),
      el("p", {}, `${countsTold(answer)}.${firstTold(answer)}`),
    ),
    el("p", {}, `Lengths in ${UNITS[length]}, loads in ${UNITS[force]}. A long dash is not measured.`),
    el("p", {}, el("b", {}, "Wanted: "), `${wantedTold(job)}.`),
    el("p", {}, el("b", {}, "Limits: "), `${limitsTold(kept)}.`),
    el("div", { class: "wide", tabindex: "0", role: "region", "aria-label": "Every valve" }, table(kept, answer, length, force)),
    el("h2", {}, "Shims to lay out"),
    el("p", {}, answer.shim_totals.map((one) => `${one.count} of ${shown(one.thickness, length)}`).join(", ")),
    ...list("Still to measure", answer.open_items.map((one) => one.detail)),
    ...list("Found", answer.notes.map((one) => one.detail)),
    ...list("Taken on trust", onTrust(kept)),
    ...list("Remarks", remarks(kept)),
    ...list("Cautions", answer.cautions),
    el("p", {}, `Worked out by Headbench ${document.querySelector("meta[name=release]").content}.`),
    el("p", { class: "sign" }, "Measured by ______________________  Checked by ______________________  Date ____________"),
  ].filter(Boolean);
}

function table(kept, answer, length, force) {
  const names = ["Valve", "Spring", "Read", "Shims", "Stands", "With shims", "Closed", "Open", "Coil-bind clearance", "Seal clearance", "Verdict"];
  const rows = places(kept).map(({ position, isEmpty }) => {
    const line = answer.positions.find((one) => one.id === position.id);
    if (isEmpty) return el("tr", {}, el("th", { scope: "row" }, position.id), el("td", { colspan: names.length - 1 }, badge("empty")));
    return line ? row(kept, line, length, force) : "";
  });
  const head = el("tr", {}, names.map((name) => el("th", { scope: "col" }, name)));
  return el("table", {}, el("thead", {}, head), el("tbody", {}, rows));
}

function row(kept, line, length, force) {
  return el(
    "tr",
    {},
    el("th", { scope: "row" }, line.id),
    [
      line.spring ?? "—",
      shown(line.measured_height, length),
      line.shim_stack === null ? "—" : line.shims.map((one) => shown(one, length)).join(" + ") || layShims(kept, line),
      shown(line.installed_height, length),
      shown(line.height_with_shims, length),
      shown(line.seat_load, force),
      shown(line.open_load, force),
      shown(line.coil_bind_clearance_check.value, length),
      shown(line.retainer_to_seal_clearance_check.value, length),
    ].map((text) => el("td", {}, text)),
    el("td", {}, badge(stateOf(kept, line.id), wordOf(kept, line.id))),
  );
}

function remarks(kept) {
  const own = kept.job.positions.filter((one) => one.remarks).map((one) => `${one.id}: ${one.remarks}`);
  return [kept.job.job?.remarks, ...own].filter(Boolean);
}

function list(title, items) {
  return items.length ? [el("h2", {}, title), el("ul", {}, items.map((item) => el("li", {}, item)))] : [];
}
