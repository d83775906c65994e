/* Taking over a changed job that an answer brings: one step of undoing, with a quiet word that it can be undone. */
import { signal } from "@preact/signals";
import { get, put, Refused, Unreachable } from "../api/client";
import { t } from "../text/text";
import type { Kept } from "./kept";
import { go, path } from "./place";
import { add, changed, type Listed } from "./workspace";
import { Yaml } from "./yaml";

/** What was last taken over, and into which job; shown until the text is another one. */
export const taken = signal<{ job: string; text: string } | null>(null);
/** Why the last taking over failed. */
export const takingProblem = signal("");

/* A dryer of an answer under its own name, or under a free one where another stands there; the name it has then. */
async function keepDryer(name: string, yaml: string): Promise<string> {
  const path = `workspace/dryers/${encodeURIComponent(name)}`;
  const { dryers: there } = (await get("workspace/dryers")).body as { dryers: Listed[] };
  if (there.some((one) => one.name === name)) return (await get(path)).body === yaml ? name : add("dryers", name, yaml);
  await put(`${path}?draft=1`, yaml, null);
  changed("dryers");
  return name;
}

async function withDryers(text: string, dryers: Record<string, string>): Promise<string> {
  const asked = new Yaml(text).at(["dryer"]);
  const yaml = dryers[asked];
  if (yaml === undefined) return text;
  const name = await keepDryer(asked, yaml);
  return name === asked ? text : new Yaml(text).with(["dryer"], name);
}

async function guarded(work: () => Promise<void>): Promise<void> {
  takingProblem.value = "";
  try {
    await work();
  } catch (problem) {
    if (problem instanceof Refused) takingProblem.value = problem.message;
    else if (problem instanceof Unreachable) takingProblem.value = t("server.unreachable");
    else throw problem;
  }
}

/** The job of `kept` becomes `text`; `dryers` that it names and the answer brings go into the workspace. Then `next` is shown. */
export function takeOver(kept: Kept, text: string, dryers: Record<string, string> = {}, next = "standing"): Promise<void> {
  return guarded(async () => {
    const whole = await withDryers(text, dryers);
    kept.edit(whole);
    taken.value = { job: kept.name, text: whole };
    if (path.value[2] !== next) go(["job", kept.name, next]);
  });
}

/** The same as a new job of the workspace, which is then shown. */
export function takeAsCopy(wish: string, text: string, dryers: Record<string, string> = {}): Promise<void> {
  return guarded(async () => {
    const name = await add("jobs", wish, await withDryers(text, dryers));
    go(["job", name, "standing"]);
  });
}
