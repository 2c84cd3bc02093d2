// What a head's numbers rest on without a reading of it, in sentences for its sheet.

import { listed, CHECKS } from "./words.js";
import { unitOf, withUnit } from "./numbers.js";

const PARTS = { valve: "valves", retainer: "retainers", locks: "locks", lash_cap: "lash caps", pushrod: "pushrods", lifter: "lifters" };

/** Everything taken on trust: by somebody's word, by another's weight, by arithmetic in place of a gauge. */
export function onTrust(kept) {
  return [...kept.answer.waived_checks.map(waived), ...weights(kept.job), ...heights(kept.answer), ...lifts(kept.job)];
}

function waived({ position, check, accepted_by: by, reason }) {
  return `${position}: ${CHECKS[check]?.name.toLowerCase() ?? check}, on trust by ${by}: ${reason}`;
}

/** Weights taken as equal; parts that were weighed at the same number of valves share a sentence. */
function weights(job) {
  const unit = unitOf(job, "mass");
  const sentences = new Map();
  for (const [part, plural] of Object.entries(PARTS)) {
    const has = job.positions.filter((one) => one.masses?.[part]);
    const equal = has.filter((one) => one.taken_as_equal?.includes(part));
    if (equal.length === 0) continue;
    const values = [...new Set(equal.map((one) => one.masses[part]))].map((one) => withUnit(one, unit));
    const count = has.length - equal.length;
    const how = `${count === 1 ? "one" : count || "none"} weighed, the other ${equal.length} taken as equal.`;
    sentences.set(how, [...(sentences.get(how) ?? []), `${plural} ${values.join(" or ")}`]);
  }
  return [...sentences].map(([how, parts]) => capital(`${listed(parts)}: ${how}`));
}

function heights({ positions }) {
  const figured = positions.filter((one) => one.installed_height !== null && one.height_with_shims === null);
  if (figured.length === 0) return [];
  const whose = figured.length > 1 ? `heights of ${figured.length} valves are` : `height of ${figured[0].id} is`;
  return [`Installed ${whose} figured from the shims, not measured after assembly.`];
}

function lifts({ positions, valvetrain }) {
  const figured = ["intake", "exhaust"].filter((valve) => {
    const train = valvetrain?.[valve];
    const isByLobe = (train?.lobe_lift ?? null) !== null && (train.valve_lift ?? null) === null;
    return isByLobe && positions.some((one) => one.valve === valve && (one.valve_lift ?? null) === null);
  });
  return figured.length ? [`Valve lift (${listed(figured)}) from lobe lift and rocker ratio, not measured at the valve.`] : [];
}

function capital(text) {
  return text[0].toUpperCase() + text.slice(1);
}
