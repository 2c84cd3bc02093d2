// Jobs as files: what goes out and comes in is the service's own JSON of a head, nothing of ours.

import { addJob } from "./kept.js";
import { PASSES } from "./passes.js";

/** A new record around a job. */
export function newRecord(job, aside) {
  const id = `${Date.now().toString(36)}${Math.floor(Math.random() * 1e9).toString(36)}`;
  return { id, revision: 1, answered: 0, answer: null, problem: null, begun: new Date().toISOString(), job, aside };
}

/** Keep a new job and give its id. */
export async function begin(job, aside) {
  const made = newRecord(job, aside);
  await addJob(made);
  navigator.storage?.persist?.();
  return made.id;
}

/** Hand a job out as a file. */
export function handOut(job) {
  const name = (job.job?.reference ?? "job").replace(/[^\w.-]+/g, "-");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([`${JSON.stringify(job, null, 2)}\n`], { type: "application/json" }));
  link.download = `${name}.json`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

/** The job in a file's text; throws an Error whose message says what is wrong with it. */
export function readJob(text) {
  let job;
  try {
    job = JSON.parse(text);
  } catch {
    throw new Error("This file is not JSON. Choose a job that was exported here or posted to /v1/head-assembly.");
  }
  const positions = job?.positions;
  const isJob = Array.isArray(positions) && positions.length > 0 && positions.every((one) => typeof one?.id === "string");
  if (!isJob) throw new Error("This file has no positions, so it is no job of a head.");
  return { ...job, springs: job.springs ?? [] };
}

/** What stands beside a job that came from a file: the passes it has readings of, and the heights it was tested at. */
export function asideOf(job) {
  const heights = { intake: heightsIn(job, "intake"), exhaust: heightsIn(job, "exhaust") };
  const kept = { job, aside: { testHeights: heights } };
  const has = (pass) => pass.steps(kept).some((step) => step.path.slice(2).reduce(within, job[step.path[1]]) !== undefined);
  return { passes: PASSES.filter((pass) => pass.asked || has(pass)).map((pass) => pass.key), testHeights: heights };
}

function within(value, step) {
  if (Array.isArray(value)) return typeof step === "number" ? value[step] : value.find((one) => one.id === step);
  return value?.[step] ?? undefined;
}

function heightsIn(job, valve) {
  const used = new Set(job.positions.filter((one) => one.valve === valve).map((one) => one.spring));
  const found = new Set();
  for (const spring of job.springs) {
    if (!used.has(spring.id)) continue;
    for (const reading of spring.load_curve?.readings ?? []) found.add(reading.height);
  }
  return [...found].sort((one, other) => other - one);
}
