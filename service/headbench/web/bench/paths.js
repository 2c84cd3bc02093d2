// Places in a job. A path has names and, for lists whose members have ids, those ids: it stays right when a list changes.

/** What stands at a path; undefined where there is nothing. */
export function valueAt(root, path) {
  return path.reduce((value, step) => member(value, step), root);
}

/** The same tree with another value at a path; undefined takes it out. The old tree stays as it is. */
export function withValue(root, path, value) {
  if (path.length === 0) return value;
  const [step, ...rest] = path;
  const inner = withValue(member(root, step), rest, value);
  if (Array.isArray(root)) {
    const place = placeOf(root, step);
    if (place < 0) throw new RangeError(`${String(step)} is not in the list`);
    return root.map((item, at) => (at === place ? inner : item));
  }
  const { [step]: _, ...others } = root ?? {};
  return inner === undefined ? others : { ...root, [step]: inner };
}

/** A path as the service names it: an RFC 6901 pointer. */
export function pointerOf(root, path) {
  let pointer = "";
  let value = root;
  for (const step of path) {
    const name = Array.isArray(value) ? placeOf(value, step) : step;
    pointer += `/${String(name).replaceAll("~", "~0").replaceAll("/", "~1")}`;
    value = member(value, step);
  }
  return pointer;
}

/** Whether two values are the same in all that JSON can say. */
export function isSame(one, other) {
  return JSON.stringify(one ?? null) === JSON.stringify(other ?? null);
}

function member(value, step) {
  if (Array.isArray(value)) return value[placeOf(value, step)];
  return value === null || value === undefined ? undefined : value[step];
}

function placeOf(list, step) {
  return typeof step === "number" ? step : list.findIndex((item) => item?.id === step);
}
