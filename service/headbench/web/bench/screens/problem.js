// What the service would not take, wherever it stands: every fault in words, with the way to where it was entered.

import { el } from "../dom.js";
import { isAbout, isRead, loadTold, passesOf } from "../passes.js";
import { REFUSALS } from "../words.js";

/** A box that names every fault; null where there is none, and where what was refused has been changed since. */
export function problemBox(kept) {
  if (!kept.problem || kept.answered < kept.revision) return null;
  const { status, detail, errors } = kept.problem;
  return el(
    "div",
    { class: "problem", role: "alert" },
    el("p", {}, el("b", {}, "Not figured. "), errors.length ? REFUSALS[status] : detail),
    el("ul", {}, errors.map((fault) => el("li", {}, ways(kept, fault)))),
    kept.answer ? el("p", {}, "What you see below is the answer from before.") : null,
  );
}

/** A fault with the way to where it was entered; where several readings contradict each other, to each of them. */
function ways(kept, fault) {
  const base = `#/job/${kept.id}`;
  for (const pass of passesOf(kept)) {
    const steps = pass.steps(kept).filter((one) => isAbout(kept, one, fault));
    const read = steps.filter((one) => isRead(kept, one));
    const linkOf = (step, words, more) => el("a", { href: `${base}/pass/${pass.key}/${encodeURIComponent(step.key)}`, ...more }, words);
    if (read.length > 1) return [fault.detail, el("span", { class: "row" }, read.map((one) => linkOf(one, loadTold(kept, one), { class: "act" })))];
    if (steps.length) return [linkOf(read[0] ?? steps[0], fault.detail)];
  }
  return [el("a", { href: `${base}/setup` }, fault.detail)];
}
