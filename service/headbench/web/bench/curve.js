// The curve of a spring: load against height, from tall to short, with the readings and where it works.

import { post } from "./asking.js";
import { el, svg } from "./dom.js";
import { shown, unitOf, withUnit } from "./numbers.js";

const WIDTH = 340;
const HEIGHT = 220;
const LEFT = 44;
const BOTTOM = 34;
const TOP = 14;
const RIGHT = 12;
const POINTS = 40;

/** A figure with the curve of one spring, filled in once the service has given its points; it figures none itself. */
export function springCurve(kept, springId, line) {
  const spring = (kept.job.springs ?? []).find((one) => one.id === springId);
  const figure = el("figure", { class: "curve" });
  if (spring?.load_curve) fill(figure, kept, spring, line);
  return figure;
}

async function fill(figure, kept, spring, line) {
  const { units, tester } = kept.job;
  const request = { ...(units && { units }), ...(tester && { tester }), springs: [spring], curve_points: POINTS };
  if (line?.installed_height && line?.valve_lift) {
    request.working_heights = { installed_height: line.installed_height, valve_lift: line.valve_lift };
  }
  const said = await post("/v1/spring-load", request);
  const curve = said?.status === 200 ? said.body.springs[0].curve : null;
  if (!curve || curve.loads.every((load) => load === null)) return;
  const units_ = { length: unitOf(kept.job, "length"), force: unitOf(kept.job, "force") };
  figure.append(drawn(spring, curve, units_), el("figcaption", {}, told(spring, curve, units_)));
}

function told(spring, curve, units) {
  const marks = curve.marks
    .filter((mark) => mark.load !== null)
    .map((mark) => `${NAMES[mark.name] ?? mark.name} ${withUnit(mark.load, units.force)} at ${withUnit(mark.height, units.length)}`);
  return `Spring ${spring.id}: dots are readings. ${marks.join("; ")}.`;
}

const NAMES = { seat: "closed", open: "open", coil_bind: "coils touch" };

function drawn(spring, curve, units) {
  const points = curve.heights.map((height, at) => ({ height, load: curve.loads[at] })).filter(({ load }) => load !== null);
  const readings = spring.load_curve.readings ?? [];
  const all = [...points, ...readings, ...curve.marks.filter((mark) => mark.load !== null)];
  const heights = all.map((one) => one.height);
  const [short, tall] = [Math.min(...heights), Math.max(...heights)];
  const most = Math.max(...all.map((one) => one.load));
  const x = (height) => LEFT + ((tall - height) / (tall - short || 1)) * (WIDTH - LEFT - RIGHT);
  const y = (load) => HEIGHT - BOTTOM - (load / (most || 1)) * (HEIGHT - BOTTOM - TOP);
  const path = points.map(({ height, load }, at) => `${at ? "L" : "M"}${x(height).toFixed(1)} ${y(load).toFixed(1)}`).join("");
  return svg(
    "svg",
    { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": told(spring, curve, units) },
    svg("path", { d: `M${LEFT} ${TOP}V${HEIGHT - BOTTOM}H${WIDTH - RIGHT}`, class: "axis" }),
    ...[0, 0.5, 1].map((part) => level(part * most, y, units)),
    ...[tall, (tall + short) / 2, short].map((height, at) => foot(height, x, ["start", "middle", "end"][at], units)),
    svg("path", { d: path, class: "line" }),
    ...readings.map((one) => svg("circle", { cx: x(one.height), cy: y(one.load), r: 4, class: "reading" })),
    ...curve.marks.filter((mark) => mark.load !== null).map((mark) => at(mark, x, y)),
  );
}

function level(load, y, units) {
  return svg(
    "g",
    {},
    svg("path", { d: `M${LEFT} ${y(load)}H${WIDTH - RIGHT}`, class: "grid" }),
    svg("text", { x: LEFT - 5, y: y(load) + 4, "text-anchor": "end" }, `${Math.round(load)}${load === 0 ? ` ${units.force}` : ""}`),
  );
}

function foot(height, x, anchor, units) {
  const text = anchor === "end" ? withUnit(height, units.length) : shown(height, units.length);
  return svg("text", { x: x(height), y: HEIGHT - BOTTOM + 18, "text-anchor": anchor }, text);
}

function at(mark, x, y) {
  const name = NAMES[mark.name] ?? mark.name;
  const left = x(mark.height) > WIDTH / 2;
  return svg(
    "g",
    { class: "mark" },
    svg("path", { d: `M${x(mark.height)} ${HEIGHT - BOTTOM}V${y(mark.load)}` }),
    svg("rect", { x: x(mark.height) - 4, y: y(mark.load) - 4, width: 8, height: 8 }),
    svg("text", { x: x(mark.height) + (left ? -8 : 8), y: y(mark.load) - 6, "text-anchor": left ? "end" : "start" }, name),
  );
}
