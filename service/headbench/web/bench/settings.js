// What a job is set up with, group by group: where each field stands in the job, what it is called, what it measures.

import { ORDERS } from "./layout.js";

const BOTH = [
  ["intake", "Intake"],
  ["exhaust", "Exhaust"],
];

function pair(name, path, quantity, more = {}) {
  const fields = BOTH.map(([valve, title]) => ({
    prefix: name,
    label: title,
    path: ["job", path[0], valve, ...path.slice(1)],
    quantity,
    ...more,
  }));
  return { title: name, fields, isPair: true };
}

function one(label, path, more = {}) {
  return { fields: [{ label, path, ...more }] };
}

const YES_NO = [
  ["", "not said"],
  [true, "yes"],
  [false, "no"],
];

/** Only while a job is new: what decides how many positions and springs there are. */
export const LAYOUT = [
  {
    legend: "Layout",
    rows: [
      one("Heads", ["layout", "heads"], { choices: [["1", "one head"], ["2", "a pair, two banks"]] }),
      {
        fields: [
          { label: "First bank is called", path: ["layout", "first_bank"], kind: "text", placeholder: "left" },
          { label: "Second bank", path: ["layout", "second_bank"], kind: "text", placeholder: "right" },
        ],
      },
      one("Cylinders in a head", ["layout", "cylinders"], { choices: ["4", "1", "2", "3", "5", "6", "8"].map((n) => [n, n]) }),
      {
        fields: [
          { label: "Intakes a cylinder", path: ["layout", "intakes"], choices: ["1", "2", "3"].map((n) => [n, n]) },
          { label: "Exhausts a cylinder", path: ["layout", "exhausts"], choices: ["1", "2"].map((n) => [n, n]) },
        ],
      },
      {
        fields: [
          { label: "Order from the front", path: ["layout", "order"], choices: ORDERS },
          { label: "On the second bank", path: ["layout", "second_order"], choices: [["", "the same"], ...ORDERS] },
        ],
      },
      {
        fields: [
          { label: "Lengths in", path: ["job", "units", "length"], choices: [["in", "inches"], ["mm", "millimeters"]] },
          { label: "Loads in", path: ["job", "units", "force"], choices: [["lbf", "pounds"], ["N", "newtons"], ["kgf", "kilograms-force"]] },
        ],
      },
    ],
  },
  {
    legend: "Springs",
    rows: [
      {
        fields: [
          { label: "Springs a valve", path: ["layout", "springs"], choices: [["1", "one"], ["2", "outer and inner"], ["3", "three"]] },
          { label: "Inner seat higher by", path: ["layout", "seat_rise"], quantity: "length" },
        ],
      },
      one("Nested springs are tested", ["layout", "tested"], { choices: [["each", "each alone"], ["together", "together"]] }),
    ],
  },
];

/** The order of the valves of a job there is, bank by bank. */
export function ordersOf(banks) {
  const choices = [["", "as it is"], ...ORDERS];
  const rows = banks.map(({ name }, at) => one(name ? `From the front, ${name}` : "From the front", ["layout", `order${at}`], { choices }));
  return { legend: "Order of the valves", isFolded: true, rows };
}

/** What may be changed at any time. */
export const COMMON = [
  { legend: "Job", rows: [one("Reference", ["job", "job", "reference"], { kind: "text" })] },
  {
    legend: "Valves",
    hint: "Blank where nothing is wanted or known. Without a height the shims aim at the seat load.",
    rows: [
      pair("Height wanted", ["targets", "installed_height"], "length"),
      pair("Seat load wanted", ["targets", "seat_load"], "force"),
      pair("Open load wanted", ["targets", "open_load"], "force"),
      pair("Lift at the valve", ["valvetrain", "valve_lift"], "length"),
      pair("Height micrometer: subtract", ["height_corrections", "deduction"], "length"),
    ],
  },
  {
    legend: "Shims",
    rows: [
      one("Sizes at hand", ["job", "shims", "thicknesses"], { kind: "list", quantity: "length", placeholder: "15 30 60" }),
      one("How many of each, in that order; blank: enough", ["job", "shims", "in_stock"], { kind: "list", quantity: "count" }),
    ],
  },
  {
    legend: "Lift at the lobe",
    isFolded: true,
    hint: "In place of the lift at the valve.",
    rows: [
      pair("Lobe lift", ["valvetrain", "lobe_lift"], "length"),
      pair("Rocker ratio", ["valvetrain", "rocker_ratio"], "ratio"),
      pair("Lash", ["valvetrain", "lash"], "length"),
    ],
  },
  {
    legend: "Locators",
    isFolded: true,
    hint: "Cups or rings under the springs.",
    rows: [
      pair("How thick", ["height_corrections", "locator_thickness"], "length"),
      pair("In place when the height was read", ["height_corrections", "locator_in_place"], null, { choices: YES_NO }),
    ],
  },
  {
    legend: "Limits",
    isFolded: true,
    hint: "Blank: the number that stands in the field.",
    rows: [
      {
        fields: [
          { label: "Height within ±", path: ["job", "limits", "installed_height_tolerance"], quantity: "length", usual: { in: "0.010", mm: "0.25" } },
          { label: "Seat load within ± %", path: ["job", "limits", "seat_load_tolerance"], quantity: "percent", usual: { percent: "5" } },
        ],
      },
      {
        fields: [
          { label: "Coil-bind clearance, at least", path: ["job", "limits", "coil_bind_clearance_minimum"], quantity: "length", usual: { in: "0.060", mm: "1.52" } },
          { label: "Seal clearance, at least", path: ["job", "limits", "retainer_to_seal_clearance_minimum"], quantity: "length", usual: { in: "0.050", mm: "1.27" } },
        ],
      },
      {
        fields: [
          { label: "Shims in one pocket, at most", path: ["job", "shims", "stack_maximum"], quantity: "length", usual: { in: "0.060", mm: "1.52" } },
          { label: "Open load within ± %", path: ["job", "limits", "open_load_tolerance"], quantity: "percent", usual: { percent: "5" } },
        ],
      },
    ],
  },
  {
    legend: "Heights on the tester",
    isFolded: true,
    hint: "Blank: the height wanted, and that less the lift.",
    rows: BOTH.map(([valve, title]) => one(title, ["aside", "testHeights", valve], { kind: "list", quantity: "length" })),
  },
  {
    legend: "Customer, engine, remarks",
    isFolded: true,
    rows: [
      one("Customer", ["job", "job", "customer"], { kind: "text" }),
      one("Engine", ["job", "job", "engine"], { kind: "text" }),
      one("Remarks", ["job", "job", "remarks"], { kind: "text", most: 500 }),
    ],
  },
];

/** The heights to test springs at: those entered, else closed and open as wanted, a choice that judges nothing. */
export function pinnedHeights(job, aside) {
  return Object.fromEntries(BOTH.map(([valve]) => [valve, heightsFor(job, aside.testHeights?.[valve], valve)]));
}

function heightsFor(job, entered, valve) {
  if (entered?.length) return entered;
  const closed = job.targets?.[valve]?.installed_height;
  const train = job.valvetrain?.[valve] ?? {};
  const lift = train.valve_lift ?? (train.lobe_lift ?? NaN) * (train.rocker_ratio ?? NaN) - (train.lash ?? 0);
  if (closed === undefined) return [];
  // the round number below, so that the readings reach as far as the valve opens
  const steps = job.units?.length === "mm" ? 10 : 100;
  const open = Math.floor((closed - lift) * steps + 1e-6) / steps;
  return open > 0 ? [closed, open] : [closed];
}
