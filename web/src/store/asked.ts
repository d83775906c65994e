/* Long questions about a job, kept while the pages are open: going to another tab of the job loses neither what runs nor
   what was answered. */
import { generation } from "./workspace";
import { Work } from "./work";

const works = new Map<string, Work<unknown>>();

export function workOf<T>(what: string, job: string): Work<T> {
  const key = `${what} ${job}`;
  let found = works.get(key);
  if (found === undefined) works.set(key, (found = new Work<unknown>()));
  return found as Work<T>;
}

/** What an answer is of: the question, and the state of the workspace's dryers and tables. */
export function stampOf(request: object): string {
  return `${generation.value} ${JSON.stringify(request)}`;
}
