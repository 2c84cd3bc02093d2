// The head: its drawing with the state of every valve, the passes, and what the whole comes to.

import { cautions, countsTold, firstTold, lateLine, stateOf, wholeState, wholeTold, wordOf } from "../answer.js";
import { bankDrawing, mark } from "../drawing.js";
import { button, el } from "../dom.js";
import { handOut } from "../files.js";
import { record } from "../job.js";
import { banksOf } from "../layout.js";
import { doubtOf, isRead, isTakenAsEqual, passesOf } from "../passes.js";
import { problemBox } from "./problem.js";
import { nameOf } from "./jobs.js";

export function headScreen() {
  const body = el("div", {});
  const node = el("div", {}, el("h1", { tabindex: "-1" }, nameOf(record())), body);
  const update = () => body.replaceChildren(...parts(record()));
  update();
  return { title: nameOf(record()), node, update, back: "#/" };
}

function parts(kept) {
  const base = `#/job/${kept.id}`;
  return [
    problemBox(kept),
    lateLine(kept),
    verdict(kept),
    el("div", { class: "heads" }, banksOf(kept).map((bank) => oneBank(kept, bank, base))),
    el("h2", {}, "Passes"),
    el("ol", { class: "passes" }, passesOf(kept).map((pass) => passLink(kept, pass, base))),
    el("h2", {}, "Job"),
    el(
      "div",
      { class: "row" },
      el("a", { class: "act", href: `${base}/sheet` }, "Sheet to print"),
      kept.job.springs?.length ? el("a", { class: "act", href: `${base}/choose` }, "Choose springs") : null,
      el("a", { class: "act", href: `${base}/setup` }, "Set up"),
      button("Export", () => handOut(kept.job)),
    ),
    kept.answer ? el("h2", {}, "Cautions") : null,
    cautions(kept),
  ].filter(Boolean);
}

function verdict({ answer }) {
  if (!answer) return el("p", { class: "verdict" }, "No answer yet; it comes when the service is reached.");
  const state = wholeState(answer);
  return el(
    "div",
    { class: `verdict is-${state}` },
    el("p", { class: "whole" }, mark(state), el("b", {}, wholeTold(answer))),
    el("p", {}, `${countsTold(answer)}.${firstTold(answer)}`),
  );
}

function oneBank(kept, bank, base) {
  const state = ({ id }) => stateOf(kept, id);
  return el(
    "section",
    { "aria-label": bank.name ?? "head" },
    bank.name ? el("h2", {}, bank.name) : null,
    bankDrawing(bank, state, ({ id }) => wordOf(kept, id), ({ id }) => `${base}/valve/${encodeURIComponent(id)}`),
  );
}

function passLink(kept, pass, base) {
  const steps = pass.steps(kept);
  const done = steps.filter((step) => isRead(kept, step)).length;
  const equal = steps.filter((step) => isTakenAsEqual(kept, step)).length;
  const doubted = steps.filter((step) => doubtOf(kept, step)).length;
  const isDone = steps.length > 0 && done === steps.length && doubted === 0;
  const told = () => {
    if (steps.length === 0) return "set up its heights";
    if (doubted) return `${done} of ${steps.length}, ${doubted} to check`;
    if (!isDone) return `${done} of ${steps.length}`;
    return equal ? `${done - equal} weighed, ${equal} as equal` : `✓ all ${done}`;
  };
  return el(
    "li",
    {},
    el(
      "a",
      { class: `act pass${isDone ? " is-done" : ""}`, href: `${base}/pass/${pass.key}` },
      el("span", {}, el("b", {}, pass.name), el("small", {}, pass.tool)),
      el("span", { class: "count" }, told()),
    ),
  );
}
