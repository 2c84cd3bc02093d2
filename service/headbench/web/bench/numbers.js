// Readings as they are typed, and as they are said back.

const DEFAULTS = { length: "in", force: "lbf", mass: "g" };
const WHOLE_NUMBER = /^-?\d+$/;
const NUMBER = /^-?(\d+\.?\d*|\.\d+)$/;

/** Places after the point: those always shown, and how many more where they are not zero. */
const PLACES = { in: [3, 1], mm: [2, 1], lbf: [1, 0], N: [1, 0], kgf: [1, 0], g: [1, 1], percent: [0, 1] };

/** The unit that a job measures a quantity in. */
export function unitOf(job, quantity) {
  if (quantity === "percent" || quantity === "ratio") return quantity;
  return job.units?.[quantity] ?? DEFAULTS[quantity];
}

/**
 * What somebody typed, or a gauge sent: `{value}`, `{blank: true}` or `{fault}`.
 * Where the unit is inches, digits without a point are thousandths: 1885 is 1.885 and 45 is 0.045.
 */
export function readTyped(text, unit) {
  const typed = text.trim().replace(/\s*[a-z%]+$/i, "").replace(/^\+/, "").replace(",", ".");
  if (text.trim() === "") return { blank: true };
  if (!NUMBER.test(typed)) return { fault: `“${text.trim().slice(0, 20)}” is not a number. Type digits and a point.` };
  const value = Number(typed);
  return { value: unit === "in" && WHOLE_NUMBER.test(typed) ? value / 1000 : value };
}

/** A number as a bench writes it. */
export function shown(value, unit) {
  if (value === null || value === undefined) return "—";
  const [least, more] = PLACES[unit] ?? [2, 1];
  const long = value.toFixed(least + more);
  return more && long.endsWith("0".repeat(more)) ? value.toFixed(least) : long;
}

/** The same with its unit. */
export function withUnit(value, unit) {
  if (value === null || value === undefined) return "not measured";
  if (unit === "ratio") return shown(value, unit);
  return `${shown(value, unit)}${unit === "percent" ? " %" : `\u00a0${unit}`}`;
}

/** A number as somebody would type it, to the last digit; in inches with a point, or it would be thousandths. */
export function asTyped(value, unit) {
  const text = String(value);
  return unit === "in" && WHOLE_NUMBER.test(text) ? `${text}.0` : text;
}

/** A reading as a job holds it: a number, or repeats. */
export function readingShown(reading, unit) {
  return Array.isArray(reading) ? reading.map((one) => shown(one, unit)).join(", ") : shown(reading, unit);
}
