// The first screen: the jobs on this phone, a new one, one from a file.

import { answerTo } from "../asking.js";
import { button, el } from "../dom.js";
import { asideOf, begin, readJob } from "../files.js";
import { keepKey, keptKey } from "../key.js";
import { allJobs, dropJob } from "../kept.js";
import { asked } from "../saving.js";
import { countsTold } from "../answer.js";

export function jobsScreen() {
  const list = el("ul", { class: "jobs" });
  const fault = el("div", { class: "fault", role: "alert" });
  const file = el("input", {
    type: "file",
    id: "file",
    accept: ".json,application/json",
    on: { change: () => takeIn(file, fault) },
  });
  const node = el(
    "div",
    {},
    el("h1", { tabindex: "-1" }, "Headbench"),
    el("p", {}, "Readings from the bench, one tool at a time; shims, loads and clearances back at once. Jobs stay on this phone."),
    el("p", {}, el("a", { class: "act main", href: "#/new" }, "New job")),
    list,
    el("div", { class: "box" }, el("label", { for: "file" }, "Open a job from a file"), file, fault),
    el("p", {}, el("a", { class: "act", href: "/bench/one-valve" }, "One valve only, as a plain form")),
    keptKey() ? forgetting() : null,
  );
  fill(list);
  return { title: "Jobs", node };
}

function forgetting() {
  const row = el("p", {}, button("Forget the key of this service", forget));
  async function forget() {
    const goes = await asked("Forget the key on this phone? Without it the service answers nothing more.", ["Keep", false], ["Forget", true]);
    if (!goes) return;
    keepKey("");
    row.remove();
  }
  return row;
}

async function fill(list) {
  const jobs = (await allJobs()).sort((one, other) => other.begun.localeCompare(one.begun));
  list.replaceChildren(...jobs.map((kept) => line(kept, list)));
}

function line(kept, list) {
  const name = nameOf(kept);
  const state = kept.answer ? countsTold(kept.answer) : "no answer yet";
  const drop = async () => {
    const goes = await asked(`Delete ${name} from this phone? Export it first if you want to keep it.`, ["Keep", false], ["Delete", true]);
    if (!goes) return;
    await dropJob(kept.id);
    fill(list);
  };
  return el(
    "li",
    {},
    el("a", { class: "act", href: `#/job/${kept.id}` }, el("b", {}, name), el("small", {}, state)),
    button("Delete", drop, { "aria-label": `Delete ${name}` }),
  );
}

/** What a job is called. */
export function nameOf({ job, begun }) {
  return job.job?.reference ?? job.job?.customer ?? `Job of ${begun.slice(0, 16).replace("T", " ")}`;
}

async function takeIn(input, fault) {
  const [chosen] = input.files;
  fault.replaceChildren();
  if (!chosen) return;
  try {
    const job = readJob(await chosen.text());
    const said = await answerTo(job);
    if (said?.problem && said.problem.status !== 422) {
      fault.append(el("p", {}, said.problem.detail), el("ul", {}, said.problem.errors.map((one) => el("li", {}, `${one.pointer}: ${one.detail}`))));
      return;
    }
    location.hash = `#/job/${await begin(job, asideOf(job))}`;
  } catch (error) {
    fault.append(el("p", {}, error.message));
  } finally {
    input.value = "";
  }
}
