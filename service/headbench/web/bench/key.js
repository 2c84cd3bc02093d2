// The key that a service may ask for: entered once, kept on this phone, sent with every job.

import { button, el } from "./dom.js";
import { tell } from "./job.js";

const NAME = "headbench key";
const LETTERS = /^[!-~]{1,200}$/;

let question = null;
let isPutOff = false;
/** What was entered where the browser keeps nothing. */
let entered = "";

/** The key on this phone; empty where there is none. */
export function keptKey() {
  try {
    return localStorage.getItem(NAME) ?? entered;
  } catch {
    return entered;
  }
}

/** Keep a key on this phone; an empty one is forgotten. */
export function keepKey(key) {
  entered = key;
  try {
    if (key) localStorage.setItem(NAME, key);
    else localStorage.removeItem(NAME);
  } catch {
    // it lasts as long as the page is open
  }
}

/** Whether a key is missing. */
export function isLocked() {
  return question !== null || isPutOff;
}

/** Ask once more for the key that somebody put off. */
export function askAgain() {
  isPutOff = false;
}

/** Ask for the key, once for all that wait for it; whether there is another to try. */
export function askForKey(refused) {
  if (isPutOff) return Promise.resolve(false);
  question ??= asked(refused).then((isEntered) => {
    question = null;
    isPutOff = !isEntered;
    tell();
    return isEntered;
  });
  tell();
  return question;
}

function asked(refused) {
  return new Promise((resolve) => {
    const fault = el("p", { id: "key-fault", class: "fault", role: "alert" }, refused ? "The service does not know this key." : "");
    const field = el("input", {
      id: "key",
      value: refused,
      autocomplete: "off",
      autocapitalize: "none",
      autocorrect: "off",
      spellcheck: "false",
      maxlength: 200,
      "aria-describedby": "key-fault",
      "aria-invalid": String(Boolean(refused)),
    });
    const form = el(
      "form",
      { novalidate: true, on: { submit: keep } },
      el("p", { id: "question" }, "This service asks for a key. Whoever runs it has one for you. It stays on this phone."),
      el("label", { for: "key" }, "Key"),
      field,
      fault,
      el("div", { class: "row" }, el("button", { type: "submit", class: "act main" }, "Keep the key"), button("Later", () => leave(false))),
    );
    const box = el("dialog", { class: "ask", "aria-labelledby": "question", on: { cancel: () => leave(false) } }, form);

    function keep(event) {
      event.preventDefault();
      const key = field.value.trim();
      if (!LETTERS.test(key)) {
        fault.textContent = "A key has no blanks in it and letters without accents.";
        field.setAttribute("aria-invalid", "true");
        field.focus();
        return;
      }
      keepKey(key);
      leave(true);
    }

    function leave(isEntered) {
      box.remove();
      resolve(isEntered);
    }

    document.body.append(box);
    box.showModal();
  });
}
