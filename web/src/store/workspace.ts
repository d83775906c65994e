/* What the workspace and the program hold: lists that many pages show. */
import { batch, signal } from "@preact/signals";
import type { SubstancesBrief } from "../api/types";
import { get, onReturn, put, Refused, remove, Unreachable } from "../api/client";
import { forget, keep, type Kind, onOtherTab, recall, tellOtherTabs } from "./kept";
import { t } from "../text/text";
import { Yaml } from "./yaml";

export interface Listed {
  name: string;
  etag: string;
  bytes: number;
  sound: boolean;
  problem: string | null;
  /** Of what a file of the library holds. */
  keys?: string[];
}

export interface BuiltInDryer {
  key: string;
  name: string;
  description: string;
}

export type Substance = SubstancesBrief;

export interface Container {
  key: string;
  name: string;
  kind: string;
  brim_volume_mL: number;
  inner_diameter_mm: number;
  outer_diameter_mm?: number | null;
  port_diameter_mm?: number | null;
  source?: string;
  own?: boolean;
}

export interface Solute {
  key: string;
  name: string;
  crystallises: boolean;
  critical_temperature_C: number | null;
  critical_kind: string;
  grade: string;
  source: string;
  own?: boolean;
}

export type OwnKind = Exclude<Kind, "jobs" | "dryers">;

export const jobs = signal<Listed[] | null>(null);
export const dryers = signal<Listed[] | null>(null);
export const builtInDryers = signal<BuiltInDryer[]>([]);
export const substances = signal<Substance[]>([]);
export const containers = signal<Container[]>([]);
export const solutes = signal<Solute[]>([]);
/** The workspace's own files of the library, sound or not. */
export const own = signal<Record<OwnKind, Listed[]>>({ containers: [], solutes: [], substances: [] });
/** Rises whenever something that a judgement may rest on has changed in the workspace. */
export const generation = signal(0);

async function list<T>(path: string, field: string): Promise<T[]> {
  return ((await get(path)).body as Record<string, T[]>)[field] ?? [];
}

/* Lists as they were last read, for when the server is gone and the page is opened all the same. */
const remembered = "dryfront/lists";
type Lists = Partial<Record<"jobs" | "dryers" | "builtIn" | "substances" | "containers" | "solutes", unknown[]>>;

function remember(lists: Lists): void {
  keep(localStorage, remembered, { ...recall<Lists>(localStorage, remembered), ...lists });
}

/* Of two readings on their way at once the one begun later counts, whichever comes first. */
let begun = 0;
let shown = 0;

/** Reads the lists of the workspace anew. */
export async function refresh(): Promise<void> {
  const turn = ++begun;
  try {
    const [j, d] = await Promise.all([list<Listed>("workspace/jobs", "jobs"), list<Listed>("workspace/dryers", "dryers")]);
    if (turn < shown) return;
    shown = turn;
    batch(() => {
      jobs.value = j;
      dryers.value = d;
    });
    remember({ jobs: j, dryers: d });
  } catch (problem) {
    if (!(problem instanceof Unreachable)) throw problem;
    const known = recall<Lists>(localStorage, remembered);
    if (jobs.value === null) jobs.value = (known?.jobs ?? []) as Listed[];
    if (dryers.value === null) dryers.value = (known?.dryers ?? []) as Listed[];
  }
}

/** Reads what the program itself knows, and the workspace's own beside it. */
export async function refreshTables(): Promise<void> {
  try {
    const [b, s, c, u] = await Promise.all([
      list<BuiltInDryer>("dryers", "dryers"),
      list<Substance>("substances", "substances"),
      list<Container>("containers", "containers"),
      list<Solute>("solutes", "solutes"),
    ]);
    builtInDryers.value = b;
    substances.value = s;
    containers.value = c;
    solutes.value = u;
    remember({ builtIn: b, substances: s, containers: c, solutes: u });
  } catch (problem) {
    if (!(problem instanceof Unreachable)) throw problem;
    const known = recall<Lists>(localStorage, remembered);
    if (known === null || containers.value.length > 0) return;
    builtInDryers.value = (known.builtIn ?? []) as BuiltInDryer[];
    substances.value = (known.substances ?? []) as Substance[];
    containers.value = (known.containers ?? []) as Container[];
    solutes.value = (known.solutes ?? []) as Solute[];
  }
}

/** Reads which of the library's files the workspace holds. */
export async function refreshOwn(): Promise<void> {
  try {
    const [c, u, s] = await Promise.all([list<Listed>("workspace/containers", "containers"), list<Listed>("workspace/solutes", "solutes"), list<Listed>("workspace/substances", "substances")]);
    own.value = { containers: c, solutes: u, substances: s };
  } catch (problem) {
    if (!(problem instanceof Unreachable || problem instanceof Refused)) throw problem;
  }
}

/* A key and a name that nothing else has: a second container of one name would be refused. */
function called(kind: OwnKind, text: string, name: string): string {
  const yaml = new Yaml(text);
  if (yaml.problem !== null || !yaml.has(["key"])) return text;
  const known: { key: string; name: string }[] = { containers: containers.value, solutes: solutes.value, substances: substances.value }[kind];
  const next = new Yaml(yaml.with(["key"], name));
  return known.some((one) => one.name === next.at(["name"]) || one.key === next.at(["name"])) ? next.with(["name"], name) : next.text;
}

/** Puts a new text into the workspace under the first free name that begins like `wish`; returns the name. */
export async function add(kind: Kind, wish: string, text: string): Promise<string> {
  const stem = wish.normalize("NFKD").toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40) || "new";
  const taken = new Set((await list<Listed>(`workspace/${kind}`, kind)).map((one) => one.name));
  if (kind === "dryers") for (const one of builtInDryers.value) taken.add(one.key);
  let name = stem;
  for (let i = 2; taken.has(name); i++) name = `${stem}-${i}`;
  const renamed = kind === "jobs" || kind === "dryers" ? text : called(kind, text, name);
  await put(`workspace/${kind}/${encodeURIComponent(name)}?draft=1`, renamed, null);
  tellOtherTabs(kind, name);
  changed(kind);
  return name;
}

/** Which program answers, with which data, and whether anything was ever kept in its workspace. */
export interface About {
  version: string;
  data: string;
  begun: boolean;
}

/** Why something was not done, in a sentence; what is neither a refusal nor a dead server is a fault of the pages and thrown on. */
export function reasonOf(problem: unknown): string {
  if (problem instanceof Refused) return problem.message;
  if (problem instanceof Unreachable) return t("server.unreachable");
  throw problem;
}

/** Takes files into the workspace; returns the names they were given, and a sentence for each that was refused. */
export async function bring(files: readonly File[], kindOf: (text: string) => Kind): Promise<{ done: string[]; failed: string[] }> {
  const done: string[] = [];
  const failed: string[] = [];
  for (const one of files) {
    const text = await one.text();
    try {
      done.push(await add(kindOf(text), one.name.replace(/\.ya?ml$/i, ""), text));
    } catch (problem) {
      failed.push(`${one.name}: ${reasonOf(problem)}`);
    }
  }
  return { done, failed };
}

/** One text that stood in the workspace, to be put back. */
export interface Removed {
  kind: Kind;
  name: string;
  text: string;
}

/** Removes a text as it is now; returns it, or null where it is not there any more. */
export async function take(kind: Kind, name: string): Promise<Removed | null> {
  const path = `workspace/${kind}/${encodeURIComponent(name)}`;
  try {
    const now = await get(path);
    await remove(path, now.etag ?? "");
    forget(kind, name);
    tellOtherTabs(kind, name);
    return { kind, name, text: now.body as string };
  } catch (problem) {
    if (problem instanceof Refused && problem.status === 404) return null;
    throw problem;
  }
}

/** Puts texts where nothing of their name stands; what stands there stays. Returns how many were put. */
export async function putBack(texts: readonly Removed[]): Promise<number> {
  let count = 0;
  for (const { kind, name, text } of texts) {
    try {
      await put(`workspace/${kind}/${encodeURIComponent(name)}?draft=1`, text, null);
      tellOtherTabs(kind, name);
      count++;
    } catch (problem) {
      if (!(problem instanceof Refused && (problem.status === 412 || problem.status === 428))) throw problem;
    }
  }
  return count;
}

/** To be called after a text of this kind has been saved or removed. */
export function changed(kind: Kind): void {
  if (kind !== "jobs") generation.value = generation.peek() + 1;
  if (kind === "jobs" || kind === "dryers") void refresh();
  else {
    void refreshTables();
    void refreshOwn();
  }
}

onOtherTab(() => {
  generation.value = generation.peek() + 1;
  void refresh();
  void refreshTables();
  void refreshOwn();
});
onReturn(() => {
  void refresh();
  void refreshTables();
});
