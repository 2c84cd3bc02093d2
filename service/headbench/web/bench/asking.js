// Asking the service: after every change the whole job, and again and again while there is no network.

import { keepAnswer, record, tell, watch } from "./job.js";
import { askAgain, askForKey, isLocked, keptKey } from "./key.js";

const PATIENCE = 15_000;
const FIRST_WAIT = 1_000;
const LONGEST_WAIT = 20_000;
const LONGEST_TOLD = 120_000;
// statuses that say nothing of the job: what is the trouble then
const TRY_LATER = { 408: "network", 429: "limited", 500: "failed", 502: "failed", 503: "busy", 504: "busy" };

let isAsking = false;
// null, or why nothing is answered: a name in TROUBLES, and in how many seconds it is asked again
let trouble = null;
let wait = FIRST_WAIT;
let timer = null;
// what was asked last: that it failed is no reason to ask at once again
let tried = null;

/** How it stands: "answered", "asking", "locked" where a key is missing, or "waiting" in trouble. */
export function standing() {
  const job = record();
  if (!job || job.answered >= job.revision) return "answered";
  if (isLocked()) return "locked";
  return trouble ? "waiting" : "asking";
}

/** What the trouble is while it waits: its name, and in how many seconds it is asked again. */
export function troubleNow() {
  return trouble ?? { name: "network", seconds: null };
}

/** Answers for the job from here on, whenever there is something to ask. */
export function startAsking() {
  watch(() => whatOf(record()) !== tried && ask());
  addEventListener("online", again);
  addEventListener("offline", () => settle({ name: "network", seconds: null }));
  document.addEventListener("visibilitychange", again);
}

/** Ask for the key that is missing, and go on. */
export function unlock() {
  askAgain();
  again();
}

function whatOf(job) {
  return job && `${job.id} ${job.revision}`;
}

function again() {
  wait = FIRST_WAIT;
  ask();
}

async function ask() {
  const job = record();
  if (isAsking || !job || job.answered >= job.revision) return;
  isAsking = true;
  tried = whatOf(job);
  clearTimeout(timer);
  const response = await post("/v1/head-assembly", job.job);
  const said = saidIn(response);
  isAsking = false;
  if (said === null) {
    // a service that knows when it has time again says so
    const next = Math.max(wait, Math.min(1_000 * (response?.retryAfter ?? 0), LONGEST_TOLD));
    const name = response ? TRY_LATER[response.status] : "network";
    timer = setTimeout(ask, next);
    wait = Math.min(2 * wait, LONGEST_WAIT);
    settle({ name, seconds: name === "network" ? null : Math.ceil(next / 1_000) });
    return;
  }
  wait = FIRST_WAIT;
  settle(null);
  if (record()?.id === job.id) await keepAnswer(job.revision, said);
  else ask();
}

function settle(now) {
  if (trouble?.name === now?.name && trouble?.seconds === now?.seconds) return;
  trouble = now;
  tell();
}

/** What the service says of a job, as it is kept beside it; null where it says nothing of it now. */
export async function answerTo(job) {
  return saidIn(await post("/v1/head-assembly", job));
}

function saidIn(response) {
  if (response === null || response.status in TRY_LATER) return null;
  if (response.status === 200) return { answer: response.body, problem: null };
  return { problem: { status: response.status, detail: response.body.detail, errors: response.body.errors ?? [] } };
}

/** Post JSON: status, body and after how many seconds to ask again, or null where nobody answers, or nobody without a key. */
export async function post(path, body) {
  const key = keptKey();
  const response = await sent(path, body, key);
  if (response?.status !== 401) {
    if (response) askAgain();
    return response;
  }
  // another window may have been given one meanwhile
  return keptKey() !== key || (await askForKey(key)) ? post(path, body) : null;
}

async function sent(path, body, key) {
  try {
    const response = await fetch(path, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json", ...(key && { Authorization: `Bearer ${key}` }) },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(PATIENCE),
    });
    const retryAfter = Number(response.headers.get("Retry-After")) || 0;
    // what stands in front of the service may fail in words of its own
    const said = response.status in TRY_LATER ? null : await response.json();
    return { status: response.status, body: said, retryAfter };
  } catch {
    return null;
  }
}
