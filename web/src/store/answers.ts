/* The last answer about each job, kept in the browser's database: shown, and said to be kept, when the server is gone. */
import type { Standing } from "../api/types";

interface KeptAnswer {
  text: string;
  answer: Standing;
  at: number;
}

const name = "dryfront";
const store = "answers";
const most = 50;

let opened: Promise<IDBDatabase> | null = null;

function open(): Promise<IDBDatabase> {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open(name, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(store);
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opened;
}

function done<T>(request: IDBRequest<T>): Promise<T> {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

/** Keeps the answer to this text of a job; a browser that keeps nothing is no fault. */
export async function keepAnswer(job: string, text: string, answer: Standing): Promise<void> {
  try {
    const within = (await open()).transaction(store, "readwrite").objectStore(store);
    if ((await done(within.count())) >= most) within.clear();
    await done(within.put({ text, answer, at: Date.now() } satisfies KeptAnswer, job));
  } catch {
    /* Not kept then. */
  }
}

/** The answer that was given to exactly this text, or null. */
export async function keptAnswer(job: string, text: string): Promise<{ answer: Standing; at: number } | null> {
  try {
    const found = await done((await open()).transaction(store).objectStore(store).get(job) as IDBRequest<KeptAnswer | undefined>);
    return found !== undefined && found.text === text ? { answer: found.answer, at: found.at } : null;
  } catch {
    return null;
  }
}
