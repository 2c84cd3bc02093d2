// The job at hand: what it is now, how it changes, and who is told. The answer of the service stands beside it.

import { changeJob, oneJob } from "./kept.js";
import { isSame, valueAt, withValue } from "./paths.js";

/** What another tab or window wrote in the meantime. */
export class Overtaken extends Error {
  constructor(edit, there) {
    super("Another window entered something else here.");
    this.edit = edit;
    this.there = there;
  }
}

const listeners = new Set();
const channel = new BroadcastChannel("headbench");
let current = null;

/** The job at hand with all that is kept beside it; null where none is open. */
export function record() {
  return current;
}

/** Be told of every change until the function that is returned is called. */
export function watch(listener) {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** Tell everybody who watches, in this window. */
export function tell() {
  for (const listener of [...listeners]) listener();
}

/** Take up a job. */
export async function openJob(id) {
  current = (await oneJob(id)) ?? null;
  tell();
  return current;
}

/** Put the job down. */
export function closeJob() {
  current = null;
}

/**
 * Change the job: each edit names a path, what stood there when it was looked at, and what shall stand there.
 * Throws Overtaken, and changes nothing, where another window wrote something else at one of them.
 */
export async function change(edits) {
  await write((kept) => {
    let changed = kept;
    for (const edit of edits) {
      const there = valueAt(changed, edit.path);
      if (!isSame(there, edit.from) && !isSame(there, edit.to)) throw new Overtaken(edit, there);
      if (!isSame(there, edit.to)) changed = withValue(changed, edit.path, edit.to);
    }
    return changed === kept ? kept : { ...changed, revision: kept.revision + 1 };
  });
}

/** Keep what the service said of the job as it was at a revision, unless something newer is kept. */
export async function keepAnswer(revision, said) {
  await write((kept) => (kept.answered > revision ? kept : { ...kept, ...said, answered: revision }));
}

async function write(work) {
  const { id } = current;
  try {
    const changed = await changeJob(id, (kept) => {
      if (!kept) throw new Error("another window deleted this job");
      return work(kept);
    });
    if (current?.id === id) current = changed;
    channel.postMessage(id);
  } catch (error) {
    if (error instanceof Overtaken) await openJob(id);
    throw error;
  } finally {
    tell();
  }
}

channel.addEventListener("message", ({ data }) => {
  if (current?.id === data) openJob(data);
});

/** An edit of what stands at a path now. */
export function edit(path, to) {
  return { path, from: valueAt(current, path), to };
}
