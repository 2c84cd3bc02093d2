// The head as it lies on the bench, front at the top: every valve where it is, its state by shape and by word.

import { el, svg } from "./dom.js";
import { VERDICTS } from "./words.js";

const ROW = 56;
const WIDTH = 164;
const EDGE = 10;
const VALVE = 36;
const MOST_MARKS = 16;

/** The shape of a state around a middle: told apart without any color. */
export function shapeOf(state, x, y, size) {
  const half = size / 2;
  const parts = {
    round: () => [svg("circle", { cx: x, cy: y, r: half }), svg("path", { d: tick(x, y, half), class: "sign" })],
    diamond: () => [
      svg("path", { d: `M${x} ${y - half}L${x + half} ${y}L${x} ${y + half}L${x - half} ${y}Z` }),
      svg("path", { d: `M${x} ${y - half / 2}V${y + half / 8}M${x} ${y + half / 2.6}v0.1`, class: "sign" }),
    ],
    dashed: () => [svg("circle", { cx: x, cy: y, r: half - 1, class: "hollow" })],
    cross: () => [
      svg("rect", { x: x - half, y: y - half, width: size, height: size }),
      svg("path", { d: cross(x, y, half * 0.5), class: "sign" }),
    ],
    dots: () => [-0.5, 0, 0.5].map((at) => svg("circle", { cx: x + at * size, cy: y, r: size / 9, class: "dot" })),
    none: () => [svg("path", { d: `M${x - half / 2} ${y}h${half}`, class: "sign bare" })],
  };
  return svg("g", { class: `state is-${state}` }, ...parts[VERDICTS[state].shape]());
}

function tick(x, y, half) {
  return `M${x - half * 0.45} ${y}l${half * 0.3} ${half * 0.35}l${half * 0.6} ${-half * 0.7}`;
}

function cross(x, y, arm) {
  return `M${x - arm} ${y - arm}l${2 * arm} ${2 * arm}M${x + arm} ${y - arm}l${-2 * arm} ${2 * arm}`;
}

/** A state in a line of text: its shape and its word. */
export function badge(state, word = VERDICTS[state].word) {
  return el("span", { class: `badge is-${state}` }, mark(state), word);
}

/** A state by its shape alone, where the words beside it tell it. */
export function mark(state) {
  return svg("svg", { class: "mark", viewBox: "0 0 24 24", width: 26, height: 26, "aria-hidden": "true" }, shapeOf(state, 12, 12, 20));
}

/** All states in one row, to see how far a pass has come; `where` is the one at hand. Of many only how many are done. */
export function strip(states, where) {
  if (states.length > MOST_MARKS) return bar(states.filter((state) => state === "accept").length / states.length);
  const step = 20;
  const marks = states.map((state, at) => [
    shapeOf(state, (at + 0.5) * step, 12, 14),
    at === where ? svg("path", { d: `M${at * step + 3} 23h14`, class: "here" }) : "",
  ]);
  const width = Math.max(states.length, 1) * step;
  return svg("svg", { class: "strip", viewBox: `0 0 ${width} 26`, "aria-hidden": "true" }, ...marks.flat());
}

function bar(part) {
  return svg(
    "svg",
    { class: "strip", viewBox: "0 0 320 26", "aria-hidden": "true" },
    svg("rect", { x: 1, y: 6, width: 318, height: 14, class: "casting" }),
    svg("rect", { x: 1, y: 6, width: 318 * part, height: 14, class: "bar" }),
  );
}

/** One bank: its casting, its chambers, and a link on every valve. `stateOf` gives a state, `wordOf` its word, `linkOf` an address. */
export function bankDrawing(bank, stateOf, wordOf, linkOf) {
  const rows = bank.cylinders.reduce((sum, cylinder) => sum + cylinder.places.length, 0);
  const height = rows * ROW + 2 * EDGE;
  const drawing = svg("svg", {
    class: "head",
    viewBox: `0 0 ${WIDTH} ${height}`,
    width: WIDTH,
    height,
    role: "group",
    "aria-label": bank.name ? `Head, ${bank.name}, front at the top` : "Head, front at the top",
  });
  drawing.append(svg("rect", { x: 1, y: 1, width: WIDTH - 2, height: height - 2, rx: 10, class: "casting" }));
  let row = 0;
  for (const cylinder of bank.cylinders) {
    const top = EDGE + row * ROW;
    const tall = cylinder.places.length * ROW;
    drawing.append(svg("rect", { x: 8, y: top + 2, width: 62, height: tall - 4, rx: 26, class: "chamber" }));
    for (const y of [top, top + tall]) drawing.append(svg("circle", { cx: WIDTH - 9, cy: y, r: 3.5, class: "bolt" }));
    for (const { position, isEmpty } of cylinder.places) {
      const [state, word] = isEmpty ? ["empty", VERDICTS.empty.word] : [stateOf(position), wordOf(position)];
      drawing.append(valve(position, state, word, EDGE + row * ROW, linkOf(position)));
      row += 1;
    }
  }
  return drawing;
}

function valve(position, state, word, top, link) {
  const size = position.valve === "intake" ? VALVE : VALVE - 6;
  return svg(
    "a",
    { href: link, "aria-label": `${position.id}, ${position.valve}: ${word}`, class: "valve" },
    svg("rect", { x: 4, y: top, width: WIDTH - 20, height: ROW, class: "touch" }),
    shapeOf(state, 39, top + ROW / 2, size),
    svg("text", { x: 78, y: top + ROW / 2 - 3, class: "id" }, position.id),
    svg("text", { x: 78, y: top + ROW / 2 + 15, class: "word" }, word),
  );
}
