/* The dryers at hand with their files, built in and of the workspace: for what the lists do not hold. */
import { signal } from "@preact/signals";
import { get, Refused, Unreachable } from "../api/client";
import { builtInDryers, dryers, type Listed } from "./workspace";

export interface DryerText {
  /** Name in the workspace, or key of a built-in one. */
  name: string;
  own: boolean;
  text: string;
  /** Why the file cannot be used; null where it can. */
  problem: string | null;
}

export const dryerTexts = signal<DryerText[] | null>(null);

/* What has been read already, by name and version. */
const known = new Map<string, string>();

async function builtIn(key: string): Promise<string> {
  const held = known.get(key);
  if (held !== undefined) return held;
  const { dryers } = (await get(`dryers/${encodeURIComponent(key)}`)).body as { dryers: { yaml?: string }[] };
  const text = dryers[0]?.yaml ?? "";
  known.set(key, text);
  return text;
}

async function own(one: Listed): Promise<string> {
  const version = `${one.name} ${one.etag}`;
  const held = known.get(version);
  if (held !== undefined) return held;
  const text = (await get(`workspace/dryers/${encodeURIComponent(one.name)}`)).body as string;
  known.set(version, text);
  return text;
}

/** The file of a built-in dryer; null where none is called so. */
export async function builtInText(key: string): Promise<string | null> {
  try {
    return await builtIn(key);
  } catch (problem) {
    if (problem instanceof Refused) return null;
    throw problem;
  }
}

/** The file of a dryer as a job names it, with or without a folder and .yaml; null where there is none. */
export async function dryerText(named: string): Promise<string | null> {
  const name = named.replace(/^.*\//, "").replace(/\.yaml$/, "");
  const listed = dryers.value?.find((one) => one.name === name);
  try {
    if (listed !== undefined) return await own(listed);
    return builtInDryers.value.some((one) => one.key === name) ? await builtIn(name) : null;
  } catch (problem) {
    if (problem instanceof Refused || problem instanceof Unreachable) return null;
    throw problem;
  }
}

/** Reads the files of the dryers listed. */
export async function readDryerTexts(keys: string[], listed: Listed[]): Promise<void> {
  try {
    dryerTexts.value = await Promise.all([
      ...listed.map(async (one) => ({ name: one.name, own: true, text: await own(one), problem: one.problem })),
      ...keys.map(async (key) => ({ name: key, own: false, text: await builtIn(key), problem: null })),
    ]);
  } catch (problem) {
    if (!(problem instanceof Unreachable || problem instanceof Refused)) throw problem;
  }
}
