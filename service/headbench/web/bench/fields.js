// A field of the set-up: its label, what it takes, what it says back, and its fault beside it.

import { el } from "./dom.js";
import { asTyped, readTyped, unitOf, withUnit } from "./numbers.js";

/** A field as `settings.js` describes it, with what stands in the job now. */
export function fieldOf({ prefix, label, path, quantity, kind, choices, placeholder, usual, most }, kept, value) {
  const id = path.join("-");
  const fault = el("p", { id: `${id}-fault`, class: "fault", role: "alert" });
  const said = el("output", { for: id, class: "said" });
  const unit = () => (quantity === "count" ? "count" : quantity && unitOf(unitsNow(kept), quantity));
  const reads = choices ? reader(choices) : READERS[kind ?? "number"];
  const control = choices ? select(id, choices, value) : input(id, text(value, unit), kind, { placeholder, most });
  control.setAttribute("aria-describedby", `${id}-fault`);
  control.addEventListener("input", sayBack);
  const node = el("div", { class: "one" }, el("label", { for: id }, prefix ? el("span", { class: "unseen" }, `${prefix}, `) : null, label), control, said, fault);
  sayBack();

  function sayBack() {
    tellFault("");
    if (usual) control.placeholder = usual[unit()] ?? "";
    const read = reads(control.value, unit());
    if (!quantity || read.fault || read.value === undefined) said.textContent = "";
    else said.textContent = [read.value].flat().map((one) => (one === null ? "enough" : quantity === "count" ? one : withUnit(one, unit()))).join(", ");
  }

  function tellFault(words) {
    fault.textContent = words;
    if (words) node.closest("details")?.setAttribute("open", "");
    control.setAttribute("aria-invalid", String(Boolean(words)));
  }

  return {
    node,
    path,
    tellFault,
    retell: sayBack,
    focus: () => control.focus(),
    text: () => control.value,
    value: () => reads(control.value, unit()).value,
    take(words) {
      control.value = words;
      sayBack();
    },
    check() {
      const read = reads(control.value, unit());
      if (read.fault) tellFault(read.fault);
      return !read.fault;
    },
  };
}

const NONE = "-";

const READERS = {
  text: (text) => ({ value: text.trim().replace(/\s+/g, " ") || undefined }),
  number: (text, unit) => readTyped(text, unit),
  list: (text, unit) => {
    const items = text.split(/[\s;]+/).map((one) => one.replace(/,$/, ""));
    const read = items.filter(Boolean).map((one) => (one === NONE ? { value: null } : readTyped(one, unit)));
    const wrong = read.find((one) => one.fault);
    return wrong ?? { value: read.length ? read.map((one) => one.value) : undefined };
  },
};

function reader(choices) {
  return (chosen) => ({ value: choices.find(([value]) => String(value) === chosen && value !== "")?.[0] });
}

/** The units chosen on the form itself while a job is new, else those of the job. */
function unitsNow(kept) {
  const length = document.getElementById("job-units-length")?.value;
  const force = document.getElementById("job-units-force")?.value;
  return length ? { units: { length, force } } : kept.job;
}

function text(value, unit) {
  if (value === undefined || value === null) return "";
  if (Array.isArray(value)) return value.map((one) => text(one, unit) || NONE).join(" ");
  return typeof value === "number" ? asTyped(value, unit()) : String(value);
}

function input(id, value, kind, { placeholder, most = 60 }) {
  return el("input", {
    id,
    value,
    placeholder,
    autocomplete: "off",
    inputmode: kind === "text" || kind === "list" ? "text" : "decimal",
    maxlength: most,
  });
}

function select(id, choices, value) {
  const options = choices.map(([one, word]) => el("option", { value: String(one), selected: one === value }, word));
  return el("select", { id }, options);
}
