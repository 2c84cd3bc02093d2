// How a client checks itself against a vector; shared/vectors/README.md says it in words.

export interface Vector {
  tolerance: { relative: number; absolute: number };
  answer: Record<string, unknown>;
}

/** What stands at a JSON pointer (RFC 6901). */
function at(answer: unknown, pointer: string): unknown {
  return pointer
    .split("/")
    .slice(1)
    .reduce((value: unknown, part) => (value as Record<string, unknown>)[part], answer);
}

function isAs(found: unknown, expected: unknown, vector: Vector): boolean {
  if (Array.isArray(expected)) {
    return (
      Array.isArray(found) &&
      found.length === expected.length &&
      expected.every((one, place) => isAs(found[place], one, vector))
    );
  }
  if (typeof expected !== "number") return found === expected;
  const within = Math.max(vector.tolerance.absolute, vector.tolerance.relative * Math.abs(expected));
  return typeof found === "number" && Math.abs(found - expected) <= within;
}

/** Where an answer is not as expected. */
export function faults(vector: Vector, answer: unknown): string[] {
  return Object.entries(vector.answer)
    .filter(([pointer, expected]) => !isAs(at(answer, pointer), expected, vector))
    .map(([pointer, expected]) => `${pointer}: ${at(answer, pointer)}, expected ${expected}`);
}
