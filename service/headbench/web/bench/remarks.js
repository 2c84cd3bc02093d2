// What the page writes beside a reading, so that every sheet tells it: a remark, and weights that nobody read.

import { edit } from "./job.js";
import { positionOf } from "./passes.js";

const BETWEEN = "; ";
const MOST = 500;

/** The edits that put a remark on the valve of a step. */
export function remarked(kept, step, words) {
  const position = positionOf(kept, step);
  const text = [position.remarks, words].filter(Boolean).join(BETWEEN).slice(0, MOST);
  return [edit(["job", "positions", position.id, "remarks"], text)];
}

/** The edits that say of the weight of a step whether it was taken as equal to another's, or read. */
export function equaled(kept, step, isEqual) {
  if (!step.part) return [];
  const position = positionOf(kept, step);
  const told = position.taken_as_equal ?? [];
  if (told.includes(step.part) === isEqual) return [];
  const parts = isEqual ? [...told, step.part] : told.filter((one) => one !== step.part);
  return [edit(["job", "positions", position.id, "taken_as_equal"], parts.length ? parts : undefined)];
}
