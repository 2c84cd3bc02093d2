// What the service would not take, wherever it stands: every fault in words, with the way to where it was entered.

import { el } from "../dom.js";
import { isAbout, passesOf } from "../passes.js";
import { REFUSALS } from "../words.js";

/** A box that names every fault; null where there is none, and where what was refused has been changed since. */
export function problemBox(kept) {
  if (!kept.problem || kept.answered < kept.revision) return null;
  const { status, detail, errors } = kept.problem;
  return el(
    "div",
    { class: "problem", role: "alert" },
    el("p", {}, el("b", {}, "Not figured. "), errors.length ? REFUSALS[status] : detail),
    el("ul", {}, errors.map((fault) => el("li", {}, el("a", { href: placeOf(kept, fault) }, fault.detail)))),
    kept.answer ? el("p", {}, "What you see below is the answer from before.") : null,
  );
}

/** Where a fault was entered: its step in a pass, or the set-up. */
function placeOf(kept, fault) {
  const base = `#/job/${kept.id}`;
  for (const pass of passesOf(kept)) {
    const step = pass.steps(kept).find((one) => isAbout(kept, one, fault));
    if (step) return `${base}/pass/${pass.key}/${encodeURIComponent(step.key)}`;
  }
  return `${base}/setup`;
}
