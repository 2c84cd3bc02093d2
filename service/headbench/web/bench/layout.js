// How the head is laid out: positions and springs of a new job, and banks and cylinders of any job.

/** The orders that valves stand in from the front: how the first two cylinders go, and so on. */
export const ORDERS = [
  ["intake", "I E, I E, …"],
  ["exhaust", "E I, E I, …"],
  ["mirrored", "I E, E I, …"],
  ["turned", "E I, I E, …"],
];

/** Whether the exhausts of a cylinder come before its intakes. */
function isExhaustFirst(order, cylinder) {
  return order === "exhaust" || (order === "mirrored" && cylinder % 2 === 0) || (order === "turned" && cylinder % 2 === 1);
}

/** The positions of a job with its banks in other orders, by their names; and the places of what is not fitted. */
export function reordered(kept, orders) {
  const all = banksOf(kept).flatMap(({ name, cylinders }) =>
    cylinders.flatMap((cylinder, at) => {
      const first = isExhaustFirst(orders[name], at + 1) ? "exhaust" : "intake";
      const rank = ({ position }) => (orders[name] && position.valve !== first ? 1 : 0);
      return [...cylinder.places].sort((one, other) => rank(one) - rank(other));
    }),
  );
  const positions = all.filter(({ isEmpty }) => !isEmpty).map(({ position }) => position);
  const empty = (kept.job.not_fitted ?? []).map((one) => ({ ...one, place: all.findIndex(({ position }) => position.id === one.id) }));
  return { positions, not_fitted: empty.length ? empty : undefined };
}

/** The positions and springs of a new job, in the order of work, front of the head first. */
export function laidOut({ banks, cylinders, intakes, exhausts, orders }) {
  const positions = banks.flatMap((bank, at) => ofBank(bank, banks, { cylinders, intakes, exhausts, order: orders[at] }));
  const letter = springLetter(banks);
  const springs = positions.map((_, place) => ({ id: springName(letter, place, positions.length) }));
  return { positions: positions.map((one, place) => ({ ...one, spring: springs[place].id })), springs };
}

/** A letter that no bank begins with, so that no spring is taken for a valve. */
function springLetter(banks) {
  return [..."SCKN"].find((letter) => banks.every((bank) => bank[0]?.toUpperCase() !== letter));
}

function springName(letter, place, count) {
  return `${letter}${String(place + 1).padStart(count > 9 ? 2 : 1, "0")}`;
}

function ofBank(bank, banks, { cylinders, intakes, exhausts, order }) {
  const letter = banks.length > 1 ? letterOf(bank, banks) : "";
  const found = [];
  for (let cylinder = 1; cylinder <= cylinders; cylinder += 1) {
    const inlets = named(`${letter}${cylinder}I`, intakes, "intake");
    const outlets = named(`${letter}${cylinder}E`, exhausts, "exhaust");
    found.push(...(isExhaustFirst(order, cylinder) ? [...outlets, ...inlets] : [...inlets, ...outlets]));
  }
  return banks.length > 1 ? found.map((one) => ({ ...one, bank })) : found;
}

function named(stem, count, valve) {
  return Array.from({ length: count }, (_, at) => ({ id: count > 1 ? `${stem}${at + 1}` : stem, valve }));
}

function letterOf(bank, banks) {
  const letter = bank[0].toUpperCase();
  const isOwn = banks.filter((one) => one[0].toUpperCase() === letter).length === 1;
  return isOwn && /[A-Z]/.test(letter) ? letter : `${banks.indexOf(bank) + 1}-`;
}

/** Every place on the head, those where nothing is fitted too: `{position, isEmpty}` in the order of work. */
export function places({ job, aside }) {
  const all = job.positions.map((position) => ({ position, isEmpty: false }));
  for (const { place, ...position } of inOrder(job.not_fitted ?? [])) {
    all.splice(Math.min(place ?? all.length, all.length), 0, { position: aside.leftOut?.[position.id]?.position ?? position, isEmpty: true });
  }
  return all;
}

function inOrder(notFitted) {
  return [...notFitted].sort((one, other) => (one.place ?? Infinity) - (other.place ?? Infinity));
}

/** The head for a drawing: banks by name, each a list of cylinders, each a list of places. */
export function banksOf(kept) {
  const banks = new Map();
  for (const place of places(kept)) {
    const name = place.position.bank ?? null;
    if (!banks.has(name)) banks.set(name, []);
    const cylinders = banks.get(name);
    const cylinder = cylinderOf(place.position.id);
    if (cylinders.length === 0 || cylinder === null || cylinders.at(-1).name !== cylinder) {
      cylinders.push({ name: cylinder, places: [] });
    }
    cylinders.at(-1).places.push(place);
  }
  return [...banks].map(([name, cylinders]) => ({ name, cylinders }));
}

function cylinderOf(id) {
  return /^\D*(?:\d+-)?(\d+)/.exec(id)?.[1] ?? null;
}
