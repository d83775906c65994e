/* The demo laboratory: invented samples and dryers that a first visit finds, and that one click clears. An item is the demo's
   where its name is one of these and its text still begins with the mark: a copy under another name is the user's own. */
import type { Removed } from "./workspace";

const files = {
  ...import.meta.glob<string>("../demo/dryers/*.yaml", { query: "?raw", import: "default", eager: true }),
  ...import.meta.glob<string>("../demo/jobs/*.yaml", { query: "?raw", import: "default", eager: true }),
};

/** Dryers first: samples name them. */
export const demo: readonly Removed[] = Object.entries(files).map(([path, text]) => {
  const [, kind, name] = /\/(dryers|jobs)\/([^/]+)\.yaml$/.exec(path)!;
  return { kind: kind as "dryers" | "jobs", name: name!, text };
});

const mark = "# Demo laboratory";

export function isDemo(kind: string, name: string, text: string): boolean {
  return text.startsWith(mark) && demo.some((one) => one.kind === kind && one.name === name);
}
