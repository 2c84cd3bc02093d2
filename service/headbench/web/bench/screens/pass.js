// A pass: one tool, one position after the other, one field; the answer of the last reading stands above it.

import { answerCard, lineOf } from "../answer.js";
import { strip } from "../drawing.js";
import { button, el } from "../dom.js";
import { edit, record } from "../job.js";
import { keypad } from "../keypad.js";
import { asTyped, withUnit } from "../numbers.js";
import { isAbout, isRead, nextOpen, passNamed, passesOf, positionOf, readingOf, withReading } from "../passes.js";
import { save } from "../saving.js";
import { marked, unmarked } from "../remarks.js";

export function passScreen({ key, at }) {
  const pass = passNamed(key);
  const base = `#/job/${record().id}`;
  const card = el("div", { class: "answer", "aria-live": "polite" });
  const progress = el("div", { class: "progress" });
  const prompt = el("h1", { tabindex: "-1", class: "prompt" });
  const kind = el("p", { class: "what" });
  const ways = el("div", { class: "row ways" });
  const pad = keypad(enter);
  const bench = el("div", { class: "bench" }, prompt, kind, ways, pad.node);
  const node = el("div", { class: "passing" }, progress, card, bench);
  let step = null;
  let last = null;

  function stepsNow() {
    return pass.steps(record());
  }

  /** Go on to a step, or to the next one that is open. */
  function turnTo(next) {
    step = next;
    if (step) {
      pad.ask(`${step.what}${step.at ? ` ${withUnit(step.at, heightUnit())}` : ""}, ${step.label}`, step.unit, given());
    }
    update();
  }

  function heightUnit() {
    return record().job.units?.length ?? "in";
  }

  function given() {
    const reading = readingOf(record(), step);
    return reading === undefined ? "" : asTyped(Array.isArray(reading) ? reading.at(-1) : reading, step.unit);
  }

  async function enter(value) {
    if (value === undefined && !isRead(record(), step)) {
      pad.tellFault("Nothing typed. Skip it if it cannot be read now.");
      return;
    }
    await put(step, value, unmarked(record(), step));
  }

  /** Keep a reading of the step at hand, with what else goes with it, and go on. */
  async function put(one, value, others = []) {
    const edits = [edit(one.path, withReading(record(), one, value)), ...others];
    if (!(await save(edits))) return turnTo(one);
    last = one;
    turnTo(nextOpen(record(), stepsNow(), one.key));
  }

  function update() {
    const kept = record();
    const steps = stepsNow();
    const done = steps.filter((one) => isRead(kept, one)).length;
    const where = steps.findIndex((one) => one.key === step?.key);
    const marks = steps.map((one) => (isRead(kept, one) ? "accept" : "not_measured"));
    progress.replaceChildren(el("p", {}, el("b", {}, pass.name), ` ${done} of ${steps.length}`), strip(marks, where));
    const answered = last ?? step;
    const position = answered && positionOf(kept, answered);
    card.replaceChildren(position ? answerCard(kept, position.id, { compares: key === "after" }) : "");
    bench.hidden = !step;
    if (!step) {
      card.append(finished(kept, steps, pass, base));
      return;
    }
    prompt.textContent = step.label;
    kind.textContent = [step.goesTo && `for ${step.goesTo}`, step.kind, `${step.what}${step.at ? ` ${withUnit(step.at, heightUnit())}` : ""}`]
      .filter(Boolean)
      .join(" · ");
    offer(choices(kept, steps));
    tellFaults(kept, steps);
  }

  /** A fault of the service stands beside its field; where it is about the reading just entered, the pass goes back to it. */
  function tellFaults(kept, steps) {
    if (!kept.problem || kept.answered < kept.revision) return;
    const about = (one) => kept.problem.errors.find((fault) => isAbout(kept, one, fault));
    const current = about(step);
    const before = last && last.key !== step.key && about(last);
    if (current && !pad.isTouched()) pad.tellFault(current.detail);
    else if (before && !pad.isTouched()) {
      const back = steps.find((one) => one.key === last.key);
      last = null;
      turnTo(back);
    } else if (kept.problem && !current) {
      card.prepend(el("p", { class: "fault" }, kept.problem.errors[0]?.detail ?? kept.problem.detail));
    }
  }

  /** Other ways to go on; they stay where they are, and keep the focus, as long as they are the same. */
  function offer(choices) {
    const words = (buttons) => [...buttons].map((one) => one.textContent).join("|");
    if (words(ways.children) !== words(choices) || ways.dataset.step !== step.key) ways.replaceChildren(...choices);
    ways.dataset.step = step.key;
  }

  function choices(kept, steps) {
    const where = steps.findIndex((one) => one.key === step.key);
    const before = steps.slice(0, where).findLast((one) => one.thing === step.thing && isRead(kept, one));
    const held = before && readingOf(kept, before);
    const reading = Array.isArray(held) ? undefined : held;
    const found = [];
    if (reading !== undefined && step.height === undefined) {
      found.push(button(`Same as ${before.label}: ${withUnit(reading, step.unit)}`, () => put(step, reading, marked(kept, step, before))));
      const alike = steps.filter((one) => one.kind === before.kind && one.thing === before.thing && !isRead(kept, one));
      if (alike.length > 1 && before.kind) {
        found.push(button(`Same for all ${before.kind}s (${alike.length})`, () => putAll(alike, before, reading)));
      }
    }
    if (step.none) found.push(button(step.none.word, () => put(step, step.none.value)));
    if (step.inner !== undefined) found.push(button("No inner spring", () => dropInner()));
    if (step.remark) found.push(button("No seal here", () => noSeal()));
    found.push(button("Skip", () => turnTo(nextOpen(record(), steps, step.key) ?? null)));
    return found;
  }

  async function putAll(alike, before, reading) {
    const kept = record();
    const edits = alike.flatMap((one) => [edit(one.path, withReading(kept, one, reading)), ...marked(kept, one, before)]);
    if (await save(edits)) last = before;
    turnTo(nextOpen(record(), stepsNow(), before.key));
  }

  async function dropInner() {
    const path = ["job", "springs", step.spring, "nested"];
    const nested = record().job.springs.find((one) => one.id === step.spring).nested;
    const left = nested.slice(0, step.inner);
    const together = left.length === 0 ? [edit(["job", "springs", step.spring, "tested_together"], undefined)] : [];
    await save([edit(path, left), ...together]);
    turnTo(nextOpen(record(), stepsNow(), step.key));
  }

  async function noSeal() {
    await save(marked(record(), step, null, step.remark));
    turnTo(stepsNow().find((one) => one.key === step.key));
  }

  const steps = stepsNow();
  const wanted = steps.find((one) => one.key === at);
  turnTo(wanted ?? steps.find((one) => !isRead(record(), one)) ?? null);
  return { title: pass.name, node, update, back: base, drop: pad.drop, focus: () => step && pad.node.querySelector("input").focus() };
}

function finished(kept, steps, pass, base) {
  const passes = passesOf(kept);
  const after = passes[passes.indexOf(pass) + 1];
  const text = steps.length
    ? `${pass.name}: all ${steps.length} are read.`
    : "No heights to test at yet: set them up first.";
  return el(
    "div",
    { class: "finished" },
    el("h1", { tabindex: "-1" }, text),
    after && steps.length ? el("a", { class: "act main", href: `${base}/pass/${after.key}` }, `Next: ${after.name}`) : null,
    steps.length ? null : el("a", { class: "act main", href: `${base}/setup` }, "Set up"),
    el("a", { class: "act", href: base }, "To the head"),
    lineOf(kept, kept.job.positions[0].id) ? null : el("p", {}, "Answers come when the service is reached."),
  );
}
