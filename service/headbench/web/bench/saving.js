// Saving what somebody entered, and asking which of two entries counts where two windows disagree.

import { button, el } from "./dom.js";
import { Overtaken, change } from "./job.js";

/** Change the job; true once it is kept on the phone, false where the person took what another window entered. */
export async function save(edits) {
  try {
    await change(edits);
    return true;
  } catch (error) {
    if (!(error instanceof Overtaken)) {
      await told(`This phone cannot keep it: ${error.message}. Write the reading down, and free some storage.`);
      return false;
    }
    const takesOwn = await chosen(error);
    return takesOwn ? save(edits.map((one) => (one === error.edit ? { ...one, from: error.there } : one))) : false;
  }
}

function chosen({ edit, there }) {
  const [theirs, own] = [there, edit.to].map(edit.words ?? words);
  return asked(`Another window entered ${theirs} here; you entered ${own}.`, [`Keep ${theirs}`, false], [`Take ${own}`, true]);
}

function words(value) {
  if (value === undefined || value === null) return "nothing";
  return typeof value === "object" ? "something else" : String(value);
}

/** Tell something that must be read. */
export function told(text) {
  return asked(text, ["OK", true]);
}

/** Ask a question whose answers are buttons, each with what it stands for. */
export function asked(question, ...answers) {
  return new Promise((resolve) => {
    const box = el("dialog", { class: "ask", "aria-labelledby": "question" }, el("p", { id: "question" }, question));
    const choices = answers.map(([word, value]) =>
      button(word, () => {
        box.close();
        resolve(value);
      }),
    );
    box.append(el("div", { class: "row" }, choices));
    box.addEventListener("cancel", () => resolve(answers[0][1]));
    box.addEventListener("close", () => box.remove());
    document.body.append(box);
    box.showModal();
  });
}
