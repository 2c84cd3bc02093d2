// Passes: one tool taken round all positions or springs, a step for each reading. Nothing here draws or keeps anything.

import { pointerOf, valueAt } from "./paths.js";
import { asTyped, shown, unitOf } from "./numbers.js";

const AT = ["job", "positions"];
const SPRINGS = ["job", "springs"];

/** What stands in a valve's remarks where it has no seal, so that every sheet tells it. */
export const NO_SEAL = "no seal, read to the guide";

/** What to mind while a spring is pressed; it stands above the field all the time. */
const PRESSING = "Square, guarded, face clear; never in a vise.";

/** Every pass there is, in the order of work. `asked` are those that a new job begins with. */
export const PASSES = [
  valvePass("heights", "Spring heights", "Height micrometer", "Spring height, valve closed, no shims", "measured_height", true, "height"),
  {
    key: "tester",
    name: "Spring loads",
    tool: "Spring tester",
    caution: PRESSING,
    asked: true,
    steps: (kept) => eachSpring(kept, (spring) => testerSteps(kept, spring)),
  },
  {
    key: "bind",
    name: "Coil bind",
    tool: "Tester or press",
    caution: PRESSING,
    asked: true,
    steps: (kept) => eachSpring(kept, (spring) => ofEachCoil(kept, spring, "coil_bind_height", "Height where the coils touch", "length", "coil-bind height")),
  },
  massPass("valve", "Valves", true),
  massPass("retainer", "Retainers", true),
  massPass("locks", "Locks", true, "Both locks together"),
  massPass("lash_cap", "Lash caps", false, "Lash cap", { word: "No lash cap", value: 0 }),
  {
    key: "scale-spring",
    name: "Weigh: springs",
    tool: "Scale",
    asked: true,
    steps: (kept) => eachSpring(kept, (spring) => ofEachCoil(kept, spring, "mass", "Spring, on the scale", "mass", "spring weight")),
  },
  {
    ...valvePass("seal", "Retainer to seal", "Dial or gauge block", "Retainer to top of seal, valve closed", "retainer_to_seal", true, "seal room"),
    steps: (kept) => kept.job.positions.map((position) => sealStep(kept, position)),
  },
  valvePass("lift", "Valve lift", "Dial indicator", "Lift at this valve", "valve_lift", false, "lift"),
  valvePass("after", "Heights with shims in", "Height micrometer", "Spring height, shims in, locks seated", "height_with_shims", true, "height with shims"),
  valvePass("after-load", "Seat loads on the head", "Lever tester", "Seat load on the head", "seat_load_with_shims", false, "seat load", "force"),
];

/** The passes of a job. */
export function passesOf(kept) {
  return PASSES.filter((pass) => kept.aside.passes.includes(pass.key));
}

/** A pass by its key. */
export function passNamed(key) {
  return PASSES.find((pass) => pass.key === key);
}

/** The first step after one that has no reading yet, going round; null where all have one, or are `entering` it. */
export function nextOpen(kept, steps, after, entering = new Set()) {
  const from = steps.findIndex((step) => step.key === after) + 1;
  const round = [...steps.slice(from), ...steps.slice(0, from)];
  return round.find((step) => !isRead(kept, step) && !entering.has(step.key)) ?? null;
}

/** Whether a step has its reading. */
export function isRead(kept, step) {
  return readingOf(kept, step) !== undefined;
}

/** Whether what stands there was taken as equal to another valve's, and not read. */
export function isTakenAsEqual(kept, step) {
  return Boolean(step.part) && (positionOf(kept, step)?.taken_as_equal ?? []).includes(step.part);
}

/** The reading of a step as it is kept; undefined where there is none. */
export function readingOf(kept, step) {
  const held = valueAt(kept, step.path);
  if (step.height === undefined) return held ?? undefined;
  return held?.readings?.find((reading) => reading.height === step.height)?.load;
}

/** A load of a spring by its height, as short as a button is. */
export function loadTold(kept, step) {
  return `${shown(step.height, unitOf(kept.job, "length"))}: ${asTyped(readingOf(kept, step), step.unit)}`;
}

/** What is to stand at the path of a step so that it has this reading; undefined takes it out. */
export function withReading(kept, step, value) {
  if (step.height === undefined) return value;
  const held = valueAt(kept, step.path);
  const curve = held?.kind === "bench" ? held : { kind: "bench", readings: [] };
  const others = curve.readings.filter((reading) => reading.height !== step.height);
  const readings = value === undefined ? others : [...others, { height: step.height, load: value }];
  readings.sort((one, other) => other.height - one.height);
  return readings.length ? { ...curve, readings } : undefined;
}

/** Whether a fault that the service found is about a step: readings of one spring that contradict each other are all. */
export function isAbout(kept, step, fault) {
  const own = pointerOf(kept.job, step.path.slice(1));
  if (step.height === undefined || kept.problem?.status === 422) return fault.pointer === own || fault.pointer.startsWith(`${own}/`);
  return fault.pointer === own || isAtReading(kept, step, fault);
}

function isAtReading(kept, step, { pointer }) {
  const place = valueAt(kept, step.path)?.readings?.findIndex((reading) => reading.height === step.height) ?? -1;
  return `${pointer}/`.startsWith(`${pointerOf(kept.job, step.path.slice(1))}/readings/${place}/`);
}

/** Codes of notes that say a reading is likely to be misread. */
const MISREAD = new Set(["unusual_reading", "reading_slip"]);

/** What the service says of a reading that can't be right, or is likely to be misread; undefined where it says nothing. */
export function doubtOf(kept, step) {
  const isAnswered = kept.answer && !kept.problem && kept.answered >= kept.revision;
  if (!isAnswered || !isRead(kept, step)) return undefined;
  const own = pointerOf(kept.job, step.path.slice(1));
  const isHere = (one) => (step.height === undefined ? one.pointer === own : isAtReading(kept, step, one));
  return kept.answer.notes.find((note) => MISREAD.has(note.code) && isHere(note)) ?? kept.answer.open_items.find(isHere);
}

/** The position that a step is about: its own, or the one its spring goes to; undefined where it goes nowhere. */
export function positionOf(kept, step) {
  return kept.job.positions.find((one) => one.id === step.position || (step.spring && one.spring === step.spring));
}

/** The height at which the load of a step is read as the job wants it: closed or open. */
export function testHeights(kept, valve) {
  return kept.aside.testHeights?.[valve] ?? [];
}

function valvePass(key, name, tool, what, field, asked, thing, quantity = "length") {
  const steps = (kept) => kept.job.positions.map((one) => valveStep(kept, one, [field], what, quantity, thing));
  return { key, name, tool, asked, steps };
}

function valveStep(kept, position, fields, what, quantity, thing) {
  return {
    key: [position.id, ...fields].join("|"),
    label: position.id,
    kind: position.valve,
    what,
    thing,
    unit: unitOf(kept.job, quantity),
    position: position.id,
    path: [...AT, position.id, ...fields],
  };
}

function sealStep(kept, position) {
  const has = !(position.remarks ?? "").includes(NO_SEAL);
  const what = has ? "Retainer to top of seal, valve closed" : "No seal: retainer to top of guide, valve closed";
  return { ...valveStep(kept, position, ["retainer_to_seal"], what, "length", "seal room"), remark: has ? NO_SEAL : null };
}

function massPass(part, name, asked, what = name.slice(0, -1), none = null) {
  const told = `${what}, on the scale`;
  const steps = (kept) =>
    kept.job.positions.map((one) => ({ ...valveStep(kept, one, ["masses", part], told, "mass", name.toLowerCase()), none, part }));
  return { key: `scale-${part}`, name: `Weigh: ${name.toLowerCase()}`, tool: "Scale", asked, steps };
}

/** Steps of every spring that goes into a position, in the order of the positions, then of those that go nowhere. */
function eachSpring(kept, steps) {
  const used = kept.job.positions.map((one) => one.spring);
  const springs = kept.job.springs ?? [];
  const inOrder = [...new Set(used)].map((id) => springs.find((one) => one.id === id)).filter(Boolean);
  return [...inOrder, ...springs.filter((one) => !used.includes(one.id))].flatMap(steps);
}

function springStep(kept, spring, path, what, quantity, thing, more = {}) {
  const position = kept.job.positions.find((one) => one.spring === spring.id);
  return {
    key: [spring.id, ...path, more.height].join("|"),
    label: `Spring ${spring.id}`,
    goesTo: position?.id,
    kind: position?.valve,
    what,
    thing,
    unit: unitOf(kept.job, quantity),
    spring: spring.id,
    path: [...SPRINGS, spring.id, ...path],
    ...more,
  };
}

function testerSteps(kept, spring) {
  const position = kept.job.positions.find((one) => one.spring === spring.id);
  const heights = testHeights(kept, position?.valve ?? "intake");
  const together = spring.tested_together ? ", inner in place" : "";
  const outer = heights.map((height) =>
    springStep(kept, spring, ["load_curve"], `Load, ${unitOf(kept.job, "force")}${together}, at`, "force", "load", { height, at: height }),
  );
  if (spring.tested_together) return outer;
  const inner = (spring.nested ?? []).flatMap((one, place) =>
    heights.map((height) => {
      const own = Number((height - (one.seat_rise ?? 0)).toFixed(6));
      return springStep(kept, spring, ["nested", place, "load_curve"], `Load of the inner spring, ${unitOf(kept.job, "force")}, at`, "force", "load", {
        height: own,
        at: own,
        inner: place,
      });
    }),
  );
  return [...outer, ...inner];
}

function ofEachCoil(kept, spring, field, what, quantity, thing) {
  const outer = springStep(kept, spring, [field], what, quantity, thing);
  const nested = (spring.nested ?? []).map((_, place) =>
    springStep(kept, spring, ["nested", place, field], `${what}, inner spring`, quantity, `inner ${thing}`, { inner: place }),
  );
  return [outer, ...nested];
}
