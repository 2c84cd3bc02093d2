// Remarks the page writes itself, so that every sheet tells what was not read one by one.

import { edit } from "./job.js";
import { positionOf } from "./passes.js";

const BETWEEN = "; ";
const MOST = 500;

/** The edits that put a remark on the valve of a step: that its reading was taken from another, or one in own words. */
export function marked(kept, step, from, words = `${step.thing} as ${from?.label}, not read`) {
  return changed(kept, step, (told) => [...told.filter((one) => !isAbout(one, step)), words]);
}

/** The edits that take such a remark away once the reading was taken. */
export function unmarked(kept, step) {
  return changed(kept, step, (told) => told.filter((one) => !isAbout(one, step)));
}

function isAbout(told, step) {
  return told.startsWith(`${step.thing} as `) && told.endsWith(", not read");
}

function changed(kept, step, change) {
  const position = positionOf(kept, step);
  if (!position) return [];
  const told = position.remarks ? position.remarks.split(BETWEEN) : [];
  const text = change(told).join(BETWEEN).slice(0, MOST) || undefined;
  return text === position.remarks ? [] : [edit(["job", "positions", position.id, "remarks"], text)];
}
