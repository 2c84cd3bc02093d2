// Setting a job up, once: layout, springs, targets, lift, what is stepped, shims, limits, passes.

import { answerTo } from "../asking.js";
import { button, el } from "../dom.js";
import { draftOf, keepDraft } from "../drafts.js";
import { asideOf, begin } from "../files.js";
import { record } from "../job.js";
import { banksOf, laidOut, reordered } from "../layout.js";
import { PASSES } from "../passes.js";
import { isSame, pointerOf, valueAt, withValue } from "../paths.js";
import { save } from "../saving.js";
import { COMMON, LAYOUT, ordersOf, pinnedHeights } from "../settings.js";
import { fieldOf } from "../fields.js";

export function setupScreen({ isNew }) {
  const kept = isNew ? blank() : record();
  const fields = [];
  const top = el("div", { class: "fault", role: "alert" });
  const layout = (isNew ? LAYOUT : [ordersOf(banksOf(kept))]).map((group) => section(group, kept, fields));
  const passes = el("fieldset", { class: "box" }, el("legend", {}, "Passes"), PASSES.map((pass) => tick(pass, kept)));
  const form = el(
    "form",
    { class: "setup", novalidate: true, on: { submit } },
    layout,
    COMMON.map((group) => section(group, kept, fields)),
    passes,
    top,
    el("button", { type: "submit", class: "act main" }, isNew ? "Start the job" : "Save"),
  );
  const node = el("div", {}, el("h1", { tabindex: "-1" }, isNew ? "New job" : "Set up"), form);
  const draft = isNew ? "new job" : `set-up ${kept.id}`;
  takeUpDraft();
  form.addEventListener("input", () => keepDraft(draft, JSON.stringify(fields.map((field) => field.text()))));
  // what stands there says its unit, and the unit may be another now
  form.addEventListener("change", ({ target }) => target.id.startsWith("job-units") && fields.forEach((field) => field.retell()));
  showFaults(isNew ? null : kept.problem);

  async function submit(event) {
    event.preventDefault();
    const wrong = fields.filter((field) => !field.check());
    if (wrong.length) {
      top.textContent = `${wrong.length === 1 ? "One field" : `${wrong.length} fields`} cannot be read.`;
      wrong[0].focus();
      return;
    }
    top.textContent = "";
    if (isNew) await start();
    else await keep();
  }

  /** What was typed and not saved when the page went away. */
  function takeUpDraft() {
    const typed = JSON.parse(draftOf(draft) || "[]");
    if (typed.length === fields.length) fields.forEach((field, at) => field.take(typed[at]));
  }

  function chosenPasses() {
    return [...passes.querySelectorAll("input")].filter((one) => one.checked).map((one) => one.value);
  }

  function filledIn(from) {
    return fields.reduce((made, field) => withValue(made, field.path, field.value()), from);
  }

  async function start() {
    const { layout: plan, job } = filledIn(kept);
    const made = { ...cleared(job), ...laidOut(planOf(plan)) };
    made.springs = made.springs.map((spring) => ({ ...spring, ...nestedOf(plan) }));
    const said = await answerTo(made);
    if (said?.problem) return showFaults(said.problem);
    keepDraft(draft, "");
    const aside = { ...asideOf(made), passes: chosenPasses(), testHeights: pinnedHeights(made, filledIn(kept).aside) };
    location.hash = `#/job/${await begin(made, aside)}`;
  }

  async function keep() {
    const made = filledIn(kept);
    const job = cleared(made.job);
    const said = await answerTo(job);
    if (said?.problem?.status === 400) return showFaults(said.problem);
    const entered = fields.filter(({ path }) => path[0] === "job").map(({ path, value }) => seen(path, value()));
    const orders = Object.fromEntries(banksOf(kept).map(({ name }, at) => [name, made.layout?.[`order${at}`]]));
    const { positions, not_fitted: empty } = reordered(kept, orders);
    entered.push(seen(["job", "positions"], positions), seen(["job", "not_fitted"], empty));
    entered.push(seen(["aside", "passes"], chosenPasses()), seen(["aside", "testHeights"], pinnedHeights(job, made.aside)));
    if (!(await save(entered.filter(({ from, to }) => !isSame(from, to))))) return;
    keepDraft(draft, "");
    location.hash = `#/job/${kept.id}`;
  }

  /** An edit of what stood there when the form was filled in, whatever another window wrote since. */
  function seen(path, to) {
    return { path, from: valueAt(kept, path), to };
  }

  /** What the service would not take stands beside its field, the rest above the button. */
  function showFaults(problem) {
    if (!problem) return;
    const left = [];
    let first = null;
    for (const fault of problem.errors) {
      const field = fields.find((one) => one.path[0] === "job" && fault.pointer.startsWith(pointerOf(kept.job, one.path.slice(1))));
      if (field) field.tellFault(fault.detail);
      else left.push(fault.detail);
      first ??= field;
    }
    top.textContent = [problem.errors.length ? "Not taken." : problem.detail, ...left].join(" ");
    first?.focus();
  }

  return { title: isNew ? "New job" : "Set up", node, back: isNew ? "#/" : `#/job/${kept.id}` };
}

function blank() {
  return { job: { positions: [], springs: [] }, aside: { passes: PASSES.filter((one) => one.asked).map((one) => one.key) }, layout: {} };
}

function section({ legend, hint, rows, isFolded }, kept, fields) {
  const pairs = [];
  const made = rows.map((row) => {
    const own = row.fields.map((field) => fieldOf(field, kept, valueAt(kept, field.path)));
    fields.push(...own);
    if (row.isPair) pairs.push(own);
    const title = row.title ? el("p", { class: "title", "aria-hidden": "true" }, row.title) : null;
    return el("div", {}, title, el("div", { class: `fields of-${own.length}` }, own.map((field) => field.node)));
  });
  const same = () => pairs.forEach(([intake, exhaust]) => exhaust.take(intake.text()));
  return el(
    isFolded ? "details" : "fieldset",
    { class: "box" },
    el(isFolded ? "summary" : "legend", {}, legend),
    hint ? el("p", { class: "hint" }, hint) : null,
    made,
    pairs.length ? button("Exhaust same as intake", same) : null,
  );
}

function tick(pass, kept) {
  const id = `pass-${pass.key}`;
  const box = el("input", { type: "checkbox", id, value: pass.key, checked: kept.aside.passes.includes(pass.key) });
  return el("div", { class: "tick" }, box, el("label", { for: id }, pass.name));
}

/** A job without the empty objects that blank fields leave behind. */
function cleared(job) {
  const { units, shims, ...others } = job;
  const made = { ...others, ...(units && { units }), ...(Object.values(shims ?? {}).some((one) => one !== undefined) && { shims }) };
  for (const name of ["targets", "valvetrain", "height_corrections"]) {
    for (const valve of ["intake", "exhaust"]) {
      if (made[name]?.[valve] && Object.keys(made[name][valve]).length === 0) made[name] = { ...made[name], [valve]: undefined };
    }
  }
  return JSON.parse(JSON.stringify(made));
}

function planOf(plan) {
  const isPair = plan.heads === "2";
  const banks = isPair ? [plan.first_bank ?? "left", plan.second_bank ?? "right"] : [""];
  return {
    banks,
    cylinders: Number(plan.cylinders ?? 4),
    intakes: Number(plan.intakes ?? 1),
    exhausts: Number(plan.exhausts ?? 1),
    orders: [plan.order ?? "intake", plan.second_order ?? plan.order ?? "intake"],
  };
}

function nestedOf({ springs, seat_rise: rise, tested }) {
  const count = Number(springs ?? 1) - 1;
  if (count === 0) return {};
  const nested = Array.from({ length: count }, () => (rise ? { seat_rise: rise } : {}));
  return { nested, ...(tested === "together" && { tested_together: true }) };
}
