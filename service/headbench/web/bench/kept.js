// What is kept on the phone: every job in the browser's own database, each change in one transaction.

const NAME = "headbench";
const STORE = "jobs";

let opened;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

/** Resolves once there is a place to keep jobs in; rejects where the browser has none. */
export async function ready() {
  await database();
}

/** Run some work in one transaction; resolves once what it wrote is on the phone. */
async function transact(mode, work) {
  const transaction = (await database()).transaction(STORE, mode, { durability: "strict" });
  return new Promise((resolve, reject) => {
    let result;
    let fault;
    transaction.oncomplete = () => resolve(result);
    transaction.onerror = () => reject(fault ?? transaction.error);
    transaction.onabort = () => reject(fault ?? transaction.error);
    work(
      transaction.objectStore(STORE),
      (value) => (result = value),
      (error) => {
        fault = error;
        transaction.abort();
      },
    );
  });
}

/** Every job there is. */
export function allJobs() {
  return transact("readonly", (store, done) => (store.getAll().onsuccess = ({ target }) => done(target.result)));
}

/** One job; undefined where there is none of this id. */
export function oneJob(id) {
  return transact("readonly", (store, done) => (store.get(id).onsuccess = ({ target }) => done(target.result)));
}

/** Keep a new job. */
export function addJob(record) {
  return transact("readwrite", (store) => store.add(record));
}

/** Forget a job. */
export function dropJob(id) {
  return transact("readwrite", (store) => store.delete(id));
}

/**
 * Change a job: `work` gets it as it is now, whichever tab wrote it last, and gives it as it shall be.
 * No other tab comes between reading and writing. What `work` throws is thrown here, and nothing is written.
 */
export function changeJob(id, work) {
  return transact("readwrite", (store, done, fail) => {
    store.get(id).onsuccess = ({ target }) => {
      try {
        const changed = work(target.result);
        if (changed === target.result) {
          done(changed);
          return;
        }
        store.put(changed).onsuccess = () => done(changed);
      } catch (error) {
        fail(error);
      }
    };
  });
}
