// A pass: one tool, one position after the other, one field; the answer of the last reading stands above it.

import { answerCard, cautions, lineOf } from "../answer.js";
import { standing, troubleNow } from "../asking.js";
import { springCurve } from "../curve.js";
import { strip } from "../drawing.js";
import { button, el } from "../dom.js";
import { draftOf, keepDraft } from "../drafts.js";
import { edit, record } from "../job.js";
import { keypad } from "../keypad.js";
import { asTyped, unitOf, withUnit } from "../numbers.js";
import { doubtOf, isAbout, isRead, isTakenAsEqual, loadTold, nextOpen, passNamed, passesOf, positionOf, readingOf, withReading } from "../passes.js";
import { isSame } from "../paths.js";
import { asked, save } from "../saving.js";
import { equaled, remarked } from "../remarks.js";
import { TROUBLES } from "../words.js";

export function passScreen({ key, at }) {
  const pass = passNamed(key);
  const base = `#/job/${record().id}`;
  const card = el("div", { class: "answer", "aria-live": "polite", tabindex: "0", role: "region", "aria-label": "Answer" });
  const progress = el("div", { class: "progress" });
  const count = el("p", {});
  const correct = button("", () => turnTo(stepsNow().find((one) => one.key === last.key)));
  const prompt = el("h1", { class: "prompt" });
  const what = el("p", { class: "what" });
  const caution = pass.caution ? el("p", { class: "caution" }, pass.caution) : null;
  const ways = el("div", { class: "ways" });
  const pad = keypad(enter, skip, (text) => keepDraft(draftName(step), text));
  const bench = el("div", { class: "bench" }, el("div", { "aria-live": "polite" }, prompt, what), caution ?? "", ways, pad.node);
  const node = el("div", { class: "passing" }, progress, card, bench);
  const entering = new Set();
  const believed = new Set();
  let saved = Promise.resolve();
  let step = null;
  let last = null;
  let seen;
  let curve = null;

  function stepsNow() {
    return pass.steps(record());
  }

  /** The next step that has no reading and none on its way to the phone. */
  function nextAfter({ key: after }) {
    return nextOpen(record(), stepsNow(), after, entering);
  }

  /** Go on to a step, or to the next one that is open. */
  function turnTo(next) {
    step = next;
    seen = step ? readingOf(record(), step) : undefined;
    if (step) {
      pad.ask(`${told(step)}, ${step.label}`, step.unit, given(), draftOf(draftName(step)));
    }
    update();
    if (!step) card.querySelector("h1")?.focus();
  }

  /** What is to be read, in words. */
  function told({ what: words, at: height }) {
    return height ? `${words} ${withUnit(height, unitOf(record().job, "length"))}` : words;
  }

  function given() {
    const reading = readingOf(record(), step);
    return reading === undefined ? "" : asTyped(Array.isArray(reading) ? reading.at(-1) : reading, step.unit);
  }

  function draftName(one) {
    return `typed ${record().id} ${key} ${one.key}`;
  }

  function skip() {
    keepDraft(draftName(step), "");
    believed.add(step.key);
    turnTo(nextAfter(step));
  }

  function enter(value) {
    if (isDoubted(record(), step) && value === readingOf(record(), step)) {
      believe(step);
      return;
    }
    if (value === undefined && !isRead(record(), step)) {
      pad.tellFault("Nothing typed. Skip it if it cannot be read now.");
      return;
    }
    put(step, value, (one) => equaled(record(), one, false));
  }

  /**
   * Keep a reading of a step, with what else goes with it. The field is free for the next at once: a gauge on a cable
   * does not wait until the phone has written.
   */
  function put(one, value, others = () => []) {
    entering.add(one.key);
    keepDraft(draftName(one), "");
    const before = seen;
    believed.delete(one.key);
    saved = saved.then(async () => {
      const isKept = await save([readingEdit(one, before, value), ...others(one)]);
      entering.delete(one.key);
      if (isKept) last = one;
      if (!isKept || value === undefined) turnTo(one);
      update();
    });
    if (value !== undefined) turnTo(nextAfter(one));
  }

  /** The edit that puts a reading in place of the one that was seen when the step was asked for. */
  function readingEdit(one, before, value) {
    const made = edit(one.path, withReading(record(), one, value));
    const words = (held) => withUnit(one.height === undefined ? held : held?.readings?.find(({ height }) => height === one.height)?.load, one.unit);
    const from = isSame(readingOf(record(), one), before) ? made.from : withReading(record(), one, before);
    return { ...made, from, words };
  }

  function update() {
    const kept = record();
    const steps = stepsNow();
    if (step && !entering.has(step.key) && !pad.isTouched() && !isSame(readingOf(kept, step), seen)) {
      // another window entered it
      turnTo(seen === undefined ? nextAfter(step) : steps.find((one) => one.key === step.key));
      return;
    }
    if (goesBack(kept)) {
      const back = steps.find((one) => one.key === last.key);
      last = null;
      turnTo(back);
      return;
    }
    const done = steps.filter((one) => isRead(kept, one)).length;
    const where = steps.findIndex((one) => one.key === step?.key);
    const marks = steps.map((one) => markOf(kept, one));
    tell(done, steps, strip(marks, where));
    const answered = last ?? step;
    const position = answered && positionOf(kept, answered);
    card.replaceChildren(position ? answerCard(kept, position.id, cardWays(kept, answered)) : "");
    if (last?.spring && !isDoubted(kept, last)) card.append(curveOf(kept, last.spring, position));
    // they stand there whenever a tool is taken up
    if (last === null && !(answered && isDoubted(kept, answered))) (pass.caution ? card.prepend : card.append).call(card, cautions(kept, pass.caution && "tester") ?? "");
    bench.hidden = !step;
    if (!step) {
      card.append(finished(kept, steps, pass, base));
      return;
    }
    const whose = [step.goesTo && `for ${step.goesTo}`, step.kind].filter(Boolean).join(", ");
    prompt.replaceChildren(step.label, " ", el("small", {}, whose));
    what.textContent = told(step);
    offer(choices(kept, steps));
    tellFaults(kept);
    tellDoubt(kept);
  }

  /** How the card tells of the step that was answered. */
  function cardWays(kept, one) {
    const late = last !== null && standing() === "waiting" ? TROUBLES[troubleNow().name].until : null;
    return { compares: key === "after", late, doubt: doubtOf(kept, one), isBelieved: believed.has(one.key), label: one.label };
  }

  /** How a step stands in the row of all: open, read, in doubt, or taken as equal. */
  function markOf(kept, one) {
    if (!isRead(kept, one)) return "not_measured";
    if (doubtOf(kept, one)) return "borderline";
    return isTakenAsEqual(kept, one) ? "empty" : "accept";
  }

  /** Whether a reading is in doubt and nobody said yet that it is right. */
  function isDoubted(kept, one) {
    return !entering.has(one.key) && !believed.has(one.key) && doubtOf(kept, one) !== undefined;
  }

  /** Go on with a reading that is in doubt: it was looked at. */
  function believe(one) {
    believed.add(one.key);
    turnTo(nextAfter(one));
  }

  /** A reading that can't be right keeps its place until it is corrected, or kept. */
  function tellDoubt(kept) {
    if (isDoubted(kept, step) && !pad.isTouched()) pad.tellFault(`${withUnit(readingOf(kept, step), step.unit)}? Correct it, or keep it.`);
  }

  /** The curve of a spring just read; drawn anew only where it is another. */
  function curveOf(kept, spring, position) {
    const line = position && lineOf(kept, position.id);
    const of = JSON.stringify([kept.job.springs.find((one) => one.id === spring), line?.installed_height, line?.valve_lift]);
    if (curve?.of !== of) curve = { of, figure: springCurve(kept, spring, line) };
    return curve.figure;
  }

  function tell(done, steps, marks) {
    count.replaceChildren(el("b", {}, pass.name), ` ${done} of ${steps.length}`);
    correct.hidden = !last || last.key === step?.key;
    correct.textContent = last ? `Correct ${last.spring ?? last.position}` : "";
    progress.replaceChildren(el("div", {}, count, correct), marks);
  }

  /** What the service would not take of a step; undefined where it took it, or has not answered yet. */
  function refusalOf(kept, one) {
    if (!kept.problem || kept.answered < kept.revision) return undefined;
    return kept.problem.errors.find((fault) => isAbout(kept, one, fault));
  }

  /** Whether the reading just entered is refused or in doubt, so that the pass goes back to it; never while digits are typed. */
  function goesBack(kept) {
    if (!last || last.key === step?.key || (step && pad.isTouched())) return false;
    return refusalOf(kept, last) !== undefined || isDoubted(kept, last);
  }

  /** A fault of the service stands beside its field. */
  function tellFaults(kept) {
    const fault = refusalOf(kept, step);
    // what was answered before says nothing of a reading that was refused, and the field needs the room
    card.hidden = Boolean(fault);
    if (fault && !pad.isTouched()) pad.tellFault(fault.detail.replace(/^spring [^:]*: (readings [^:]*: )?/, ""));
    else if (!fault && kept.problem && kept.answered >= kept.revision) {
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
    const found = [...contradicted(kept, steps), ...takenAsEqual(kept, steps)];
    if (isDoubted(kept, step)) found.push(button(`Keep ${withUnit(readingOf(kept, step), step.unit)}`, () => believe(step)));
    if (isRead(kept, step)) found.push(button("Take the reading out", () => put(step, undefined, (one) => equaled(record(), one, false))));
    if (step.none) found.push(button(step.none.word, () => put(step, step.none.value)));
    if (step.inner !== undefined) found.push(button("No inner spring", () => dropInner()));
    if (step.remark) found.push(button("No seal here", () => noSeal()));
    return found;
  }

  /** Where loads of one spring contradict each other, each of them: any may be the one misread. */
  function contradicted(kept, steps) {
    if (step.height === undefined || !refusalOf(kept, step)) return [];
    const rivals = steps.filter((one) => isSame(one.path, step.path) && isRead(kept, one));
    return rivals.length < 2 ? [] : rivals.map((one) => button(loadTold(kept, one), () => turnTo(one)));
  }

  /** Weights may be taken as equal to one that was read; what differs from pocket to pocket may not. */
  function takenAsEqual(kept, steps) {
    if (!step.part || step.part === "valve") return [];
    const weighed = steps.slice(0, steps.findIndex((one) => one.key === step.key)).filter((one) => isWeighed(kept, one));
    const last = weighed.at(-1);
    if (!last) return [];
    const like = weighed.findLast((one) => one.kind === step.kind) ?? last;
    const left = steps.filter((one) => one.kind === step.kind && !isRead(kept, one));
    const one = button(`Same as ${last.label}: ${weightOf(last)}`, () => takeEqual([step], last));
    if (left.length < 2) return [one];
    return [one, button(`All ${left.length} ${step.kind}s: ${weightOf(like)}`, () => takeEqual(left, like))];
  }

  function weightOf(one) {
    return withUnit(readingOf(record(), one), one.unit);
  }

  /** Whether a step has one weight that was read, and that nobody doubts. */
  function isWeighed(kept, one) {
    const reading = readingOf(kept, one);
    return typeof reading === "number" && !isTakenAsEqual(kept, one) && !doubtOf(kept, one);
  }

  async function takeEqual(alike, from) {
    const asks = step;
    const whom = alike.length > 1 ? `${alike.length} ${step.kind}s without weighing them` : `${step.label} without weighing it`;
    if (!(await asked(`Enter ${weightOf(from)} for ${whom}?`, ["Weigh them", false], ["Enter", true]))) return;
    const kept = record();
    const reading = readingOf(kept, from);
    const edits = alike.flatMap((one) => [edit(one.path, reading), ...equaled(kept, one, true)]);
    if (await save(edits)) last = alike.at(-1);
    turnTo(nextAfter(asks));
  }

  async function dropInner() {
    const path = ["job", "springs", step.spring, "nested"];
    const nested = record().job.springs.find((one) => one.id === step.spring).nested;
    const left = nested.slice(0, step.inner);
    const together = left.length === 0 ? [edit(["job", "springs", step.spring, "tested_together"], undefined)] : [];
    await save([edit(path, left), ...together]);
    turnTo(nextAfter(step));
  }

  async function noSeal() {
    await save(remarked(record(), step, step.remark));
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
