/* What the list of samples shows of each: its text's main fields and how it stands, asked a few at a time and remembered by
   the version of the text and of the workspace's dryers. */
import { effect, signal } from "@preact/signals";
import type { Standing } from "../api/types";
import { ask, get, Refused, Unreachable } from "../api/client";
import { keep, recall } from "./kept";
import { dryers, generation, jobs, type Listed } from "./workspace";
import { Yaml } from "./yaml";

export interface Brief {
  /** Of the text it is about. */
  etag: string;
  title: string;
  dryer: string;
  purpose: string;
  composition: string;
  /** The text of a demo is known by its beginning. */
  head: string;
  /** What the judgement rests on beside the text; "" while it is not judged. */
  rests: string;
  standing: Standing["standing"] | null;
  acceptable: boolean;
  because: string;
  drying_h: number | null;
}

const key = "dryfront/briefs";
const atOnce = 3;

export const briefs = signal<Record<string, Brief>>(recall<Record<string, Brief>>(localStorage, key) ?? {});
effect(() => keep(localStorage, key, briefs.value));

function set(name: string, brief: Brief): void {
  briefs.value = { ...briefs.peek(), [name]: brief };
}

/** Whether what is shown of a job is of the text and the dryers as they are. */
export function current(job: Listed, rests: string): boolean {
  const brief = briefs.value[job.name];
  return brief !== undefined && brief.etag === job.etag && brief.rests === rests;
}

/* What was judged before this page was opened is shown at once and asked anew: the program itself may have changed. */
const opening = Date.now().toString(36);

/** Names the state of everything that a judgement rests on beside the text. */
export function foundation(): string {
  return `${opening} ${generation.value} ${(dryers.value ?? []).map((one) => one.name + one.etag).join("|")}`;
}

async function look(job: Listed, rests: string, abort: AbortSignal): Promise<void> {
  const text = (await get(`workspace/jobs/${encodeURIComponent(job.name)}`, abort)).body as string;
  const yaml = new Yaml(text);
  const brief: Brief = {
    etag: job.etag,
    title: yaml.at(["job"]) || job.name,
    dryer: yaml.at(["dryer"]),
    purpose: yaml.at(["purpose"]),
    composition: yaml.at(["sample", "composition"]),
    head: text.slice(0, 40),
    rests,
    standing: null,
    acceptable: false,
    because: job.problem ?? "",
    drying_h: null,
  };
  if (job.sound) {
    try {
      const answer = await ask<Standing>("stand", { job: text, quick: true }, abort);
      Object.assign(brief, { standing: answer.standing, acceptable: answer.acceptable, because: answer.because, drying_h: answer.run?.primary_h ?? null });
    } catch (problem) {
      if (!(problem instanceof Refused)) throw problem;
      brief.because = problem.message;
    }
  }
  if (!abort.aborted) set(job.name, brief);
}

/** Keeps the briefs of all jobs up to date until the returned function is called. */
export function watchBriefs(): () => void {
  let abort = new AbortController();
  const end = effect(() => {
    const list = jobs.value;
    const rests = foundation();
    abort.abort();
    abort = new AbortController();
    if (list === null || dryers.value === null) return;
    const waiting = list.filter((job) => {
      const known = briefs.peek()[job.name];
      return known === undefined || known.etag !== job.etag || known.rests !== rests;
    });
    const { signal: stop } = abort;
    const work = async () => {
      for (let job = waiting.shift(); job !== undefined && !stop.aborted; job = waiting.shift()) {
        try {
          await look(job, rests, stop);
        } catch (problem) {
          if (problem instanceof Unreachable || problem instanceof DOMException) return;
          /* Removed meanwhile: the list will say so. */
          if (!(problem instanceof Refused)) throw problem;
        }
      }
    };
    for (let i = 0; i < atOnce; i++) void work();
  });
  return () => {
    end();
    abort.abort();
  };
}
