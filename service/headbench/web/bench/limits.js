// What a head is held against, in sentences: what is wanted of it, and how near is good.

import { unitOf, withUnit } from "./numbers.js";
import { CHECKS, RULES, listed } from "./words.js";

/** What is wanted of each kind of valve; kinds that want the same share a sentence. */
export function wantedTold({ targets, positions, ...job }) {
  const told = new Map();
  for (const valve of ["intake", "exhaust"]) {
    const aims = Object.entries(targets?.[valve] ?? {}).length ? aimsOf(job, targets[valve]) : "";
    if (aims && positions.some((one) => one.valve === valve)) told.set(aims, [...(told.get(aims) ?? []), valve]);
  }
  return [...told].map(([aims, valves]) => `${listed(valves)} ${aims}`).join("; ") || "nothing";
}

function aimsOf(job, target) {
  const height = target.installed_height ?? null;
  const loads = [
    ["seat_load", "closed"],
    ["open_load", "open"],
  ].map(([name, word]) => {
    const ends = [["", ""], ["_minimum", "at least "], ["_maximum", "at most "]].filter(([end]) => (target[name + end] ?? null) !== null);
    const said = ends.map(([end, how]) => how + withUnit(target[name + end], unitOf(job, "force")));
    return said.length ? `${said.join(", ")} ${word}` : "";
  });
  return [height === null ? "" : withUnit(height, unitOf(job, "length")), ...loads].filter(Boolean).join(", ");
}

/** The limit of a check, as it is meant. */
export function limitTold(job, name, { rule, limit }) {
  return `${RULES[rule]}${rule === "within" ? "" : " "}${withUnit(Math.abs(limit), unitOf(job, CHECKS[name].quantity))}`;
}

/** Every limit that something is held against; one that differs by valve with each. */
export function limitsTold({ job, answer }) {
  const told = Object.entries(CHECKS).map(([name, { name: word }]) => {
    const own = new Set(answer.positions.filter((line) => line[name]).map((line) => limitTold(job, name, line[name])));
    return own.size ? `${word} ${[...own].join(" or ")}` : "";
  });
  return told.filter(Boolean).join("; ");
}
