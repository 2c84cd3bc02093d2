// The words of the bench. What the service calls a verdict or a check is said here, once, as a machinist says it.

/** Verdicts: the word beside the number, the sentence above the sheet, and the shape in the drawing. */
export const VERDICTS = {
  accept: { word: "good", told: "All good", shape: "round" },
  borderline: { word: "you decide", told: "Off target: you decide", shape: "diamond" },
  off: { word: "off", told: "Off, and not all measured yet", shape: "diamond" },
  not_measured: { word: "open", told: "Not all measured yet", shape: "dashed" },
  reject: { word: "reject", told: "Reject: do not assemble", shape: "cross" },
  empty: { word: "not fitted", told: "Not fitted", shape: "none" },
  waiting: { word: "waiting", told: "Waiting for an answer", shape: "dots" },
};

/** Checks, in the order they are looked at. */
export const CHECKS = {
  installed_height_check: { name: "Height off target", quantity: "length" },
  seat_load_check: { name: "Seat load off target", quantity: "percent" },
  open_load_check: { name: "Open load off target", quantity: "percent" },
  coil_bind_clearance_check: { name: "Coil-bind clearance", quantity: "length" },
  retainer_to_seal_clearance_check: { name: "Seal clearance", quantity: "length" },
  retainer_to_rocker_check: { name: "Retainer to rocker", quantity: "length" },
  seal_to_spring_check: { name: "Seal to spring", quantity: "length" },
  load_loss_check: { name: "Load lost", quantity: "percent" },
  rated_load_check: { name: "Off its rating", quantity: "percent" },
  odd_mass_check: { name: "Part weight off its set", quantity: "mass" },
};

/** Why the service figured nothing, by the status of its refusal; what follows names the places. */
export const REFUSALS = { 400: "This cannot be read. Correct it:", 422: "These cannot all be true. Read again:" };

/** Why there is no answer yet: what stands at the top, and what it comes with. */
export const TROUBLES = {
  network: { told: "no network", until: "the network is back" },
  busy: { told: "the service is busy", until: "the service has time" },
  limited: { told: "too many requests", until: "the service takes more" },
  failed: { told: "the service failed", until: "the service is mended" },
};

/** How a limit is meant. */
export const RULES = { at_least: "at least", at_most: "at most", within: "within ±" };

/** Units as they are spoken. */
export const UNITS = { in: "inches", mm: "millimeters", lbf: "pounds", N: "newtons", kgf: "kilograms-force" };

/** Several names in a row. */
export function listed(names) {
  return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
}
