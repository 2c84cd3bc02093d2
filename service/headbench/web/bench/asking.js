// Asking the service: after every change the whole job, and again and again while there is no network.

import { keepAnswer, record, tell, watch } from "./job.js";
import { askAgain, askForKey, isLocked, keptKey } from "./key.js";

const PATIENCE = 15_000;
const FIRST_WAIT = 1_000;
const LONGEST_WAIT = 20_000;
const TRY_LATER = new Set([408, 429, 500, 502, 503, 504]);

let isAsking = false;
let isOffline = false;
let wait = FIRST_WAIT;
let timer = null;

/** How it stands: "answered", "asking", "locked" where a key is missing, or "waiting" for the network. */
export function standing() {
  const job = record();
  if (!job || job.answered >= job.revision) return "answered";
  if (isLocked()) return "locked";
  return isOffline ? "waiting" : "asking";
}

/** Answers for the job from here on, whenever there is something to ask. */
export function startAsking() {
  watch(ask);
  addEventListener("online", again);
  addEventListener("offline", () => settle(true));
  document.addEventListener("visibilitychange", again);
}

/** Ask for the key that is missing, and go on. */
export function unlock() {
  askAgain();
  again();
}

function again() {
  wait = FIRST_WAIT;
  ask();
}

async function ask() {
  const job = record();
  if (isAsking || !job || job.answered >= job.revision) return;
  isAsking = true;
  clearTimeout(timer);
  const said = await answerTo(job.job);
  isAsking = false;
  if (said === null) {
    settle(true);
    timer = setTimeout(ask, wait);
    wait = Math.min(2 * wait, LONGEST_WAIT);
    return;
  }
  wait = FIRST_WAIT;
  settle(false);
  if (record()?.id === job.id) await keepAnswer(job.revision, said);
}

function settle(offline) {
  if (isOffline === offline) return;
  isOffline = offline;
  tell();
}

/** What the service says of a job, as it is kept beside it; null where it cannot be reached now. */
export async function answerTo(job) {
  const response = await post("/v1/head-assembly", job);
  if (response === null || TRY_LATER.has(response.status)) return null;
  if (response.status === 200) return { answer: response.body, problem: null };
  return { problem: { status: response.status, detail: response.body.detail, errors: response.body.errors ?? [] } };
}

/** Post JSON: status and body, or null where nobody answers, or nobody without a key. */
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
    return { status: response.status, body: await response.json() };
  } catch {
    return null;
  }
}
