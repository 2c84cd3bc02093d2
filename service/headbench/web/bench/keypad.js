// One field for one reading, with keys big enough for a glove. A gauge or scale on a cable types into it like a keyboard.

import { button, el } from "./dom.js";
import { readTyped, withUnit } from "./numbers.js";

const ROWS = ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"];
const SPOKEN = { "⌫": "Delete last digit", ".": "Point" };
const TYPED = /^[0-9.,-]$/;

/**
 * The field with its keypad. `onEnter` is told what was read, a number or nothing, and only what can be a reading;
 * `onSkip` that this cannot be read now; `onTyping` every digit.
 * Returns the node and what can be done with it.
 */
export function keypad(onEnter, onSkip, onTyping) {
  const label = el("label", { for: "reading" });
  const said = el("output", { id: "said", for: "reading", class: "said" });
  const fault = el("p", { id: "reading-fault", class: "fault", role: "alert" });
  const input = el("input", {
    id: "reading",
    inputmode: "none",
    autocomplete: "off",
    spellcheck: "false",
    enterkeyhint: "next",
    maxlength: "24",
    "aria-describedby": "said reading-fault",
    on: { input: typed },
  });
  const keys = el("div", { class: "keys", role: "group", "aria-label": "Keypad" }, ROWS.map(key));
  const enter = el("button", { type: "submit", class: "enter" }, "Enter");
  const skip = button("Skip", () => onSkip(), { class: "skip" });
  const form = el(
    "form",
    { class: "entry", novalidate: true, on: { submit } },
    label,
    el("div", { class: "field" }, input, said),
    fault,
    el("div", { class: "pad" }, keys, el("div", { class: "ends" }, skip, enter)),
  );
  // a finger on a key must not take the focus from the field, or the next digits of a gauge would be lost
  form.addEventListener("pointerdown", (event) => {
    if (event.target.closest("button")) event.preventDefault();
  });
  let unit = "in";
  let given = "";

  function key(sign) {
    return button(sign, () => press(sign), { class: "key", "aria-label": SPOKEN[sign] });
  }

  function press(sign) {
    if (input.selectionStart !== input.selectionEnd) input.value = "";
    input.value = sign === "⌫" ? input.value.slice(0, -1) : input.value + sign;
    typed();
  }

  function typed() {
    sayBack();
    onTyping(input.value);
  }

  function sayBack() {
    const read = readTyped(input.value, unit);
    said.textContent = read.blank ? unit : read.fault ? "?" : withUnit(read.value, unit);
    tellFault("");
  }

  function tellFault(text) {
    fault.textContent = text;
    input.setAttribute("aria-invalid", String(Boolean(text)));
  }

  function submit(event) {
    event.preventDefault();
    const read = readTyped(input.value, unit);
    if (read.fault) tellFault(read.fault);
    else onEnter(read.blank ? undefined : read.value);
  }

  /** Digits that arrive while something else has the focus belong into the field, too. */
  function catchDigits(event) {
    const elsewhere = event.target.closest?.("input, textarea, select");
    if (elsewhere || event.ctrlKey || event.metaKey || event.altKey || !TYPED.test(event.key)) return;
    event.preventDefault();
    input.focus();
    press(event.key);
  }
  document.addEventListener("keydown", catchDigits);

  return {
    node: form,
    ask(text, itsUnit, value, draft) {
      unit = itsUnit;
      label.textContent = text;
      given = value;
      input.value = draft || given;
      sayBack();
      input.focus({ preventScroll: true });
      if (value && !draft) input.select();
    },
    isTouched: () => input.value !== given,
    tellFault,
    drop: () => document.removeEventListener("keydown", catchDigits),
  };
}
