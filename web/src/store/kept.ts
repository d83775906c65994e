/* A text of the workspace as this tab works on it: edited at once, saved a moment later, undone step by step.
   What is not saved yet stands in the browser's own store as well, so that neither a reload nor a dead server loses it;
   what another tab has saved meanwhile is never overwritten unasked. */
import { batch, computed, signal } from "@preact/signals";
import { get, onReturn, put, reachable, Refused, remove, Unreachable } from "../api/client";

export type Kind = "jobs" | "dryers" | "containers" | "solutes" | "substances";

/** saved; waiting to be saved; held back by the server's refusal; parted from what another tab has saved; not there. */
export type State = "loading" | "saved" | "unsaved" | "refused" | "parted" | "absent";

interface Backup {
  text: string;
  etag: string | null;
}

interface Steps {
  past: string[];
  future: string[];
}

const pauseBeforeSaving = 500; // ms
const mostSteps = 200;
const withinOneStep = 900; // ms between edits of one field that undo together

const channel = typeof BroadcastChannel === "undefined" ? null : new BroadcastChannel("dryfront");

export function recall<T>(store: Storage, key: string): T | null {
  try {
    const text = store.getItem(key);
    return text === null ? null : (JSON.parse(text) as T);
  } catch {
    return null;
  }
}

export function keep(store: Storage, key: string, value: unknown): void {
  try {
    store.setItem(key, JSON.stringify(value));
  } catch {
    /* A full store: the server still has all but the last moment. */
  }
}

export class Kept {
  readonly text = signal("");
  readonly state = signal<State>("loading");
  /** Why the server refused to save, where it did. */
  readonly problem = signal("");
  /** What another tab or program has saved, while `state` is parted; null: removed there. */
  readonly theirs = signal<string | null>(null);
  private readonly steps = signal<Steps>({ past: [], future: [] });
  readonly canUndo = computed(() => this.steps.value.past.length > 0);
  readonly canRedo = computed(() => this.steps.value.future.length > 0);

  private etag: string | null = null;
  private saved = "";
  private timer: ReturnType<typeof setTimeout> | undefined;
  private busy = false;
  private lastField = "";
  private lastTime = 0;
  private readonly endings: (() => void)[] = [];

  constructor(
    readonly kind: Kind,
    readonly name: string,
  ) {
    const hear = (event: MessageEvent) => {
      const said = event.data as { kind: Kind; name: string };
      if (said.kind === this.kind && said.name === this.name) void this.lookAgain();
    };
    channel?.addEventListener("message", hear);
    const look = () => {
      if (document.visibilityState === "visible") void this.lookAgain();
    };
    document.addEventListener("visibilitychange", look);
    this.endings.push(
      () => channel?.removeEventListener("message", hear),
      () => document.removeEventListener("visibilitychange", look),
      onReturn(() => void this.lookAgain()),
    );
    this.steps.value = recall<Steps>(sessionStorage, this.key("steps")) ?? { past: [], future: [] };
  }

  private key(what: string): string {
    return `dryfront/${what}/${this.kind}/${this.name}`;
  }

  private get path(): string {
    return `workspace/${this.kind}/${encodeURIComponent(this.name)}`;
  }

  /** Reads it; an unsaved text of before a reload comes back. */
  async load(): Promise<void> {
    const backup = recall<Backup>(localStorage, this.key("unsaved"));
    try {
      const answer = await get(this.path);
      const text = answer.body as string;
      this.etag = answer.etag;
      this.saved = text;
      if (backup === null || backup.text === text) this.settle(text);
      else if (backup.etag === answer.etag) this.takeUp(backup.text);
      else this.part(backup.text, text);
    } catch (problem) {
      if (problem instanceof Unreachable && backup !== null) {
        this.etag = backup.etag;
        this.takeUp(backup.text);
      } else if (problem instanceof Unreachable) {
        const known = recall<Backup>(localStorage, this.key("known"));
        if (known === null) {
          this.state.value = "absent";
          return;
        }
        this.etag = known.etag;
        this.saved = known.text;
        batch(() => {
          this.text.value = known.text;
          this.state.value = "saved";
        });
      } else if (problem instanceof Refused && problem.status === 404) {
        if (backup === null) this.state.value = "absent";
        else this.takeUp(backup.text);
      } else throw problem;
    }
  }

  private settle(text: string): void {
    this.saved = text;
    localStorage.removeItem(this.key("unsaved"));
    keep(localStorage, this.key("known"), { text, etag: this.etag } satisfies Backup);
    batch(() => {
      this.text.value = text;
      this.state.value = "saved";
      this.problem.value = "";
      this.theirs.value = null;
    });
  }

  private takeUp(text: string): void {
    batch(() => {
      this.text.value = text;
      this.state.value = "unsaved";
    });
    this.later(0);
  }

  private part(mine: string, theirs: string | null): void {
    clearTimeout(this.timer);
    batch(() => {
      this.text.value = mine;
      this.theirs.value = theirs;
      this.state.value = "parted";
    });
  }

  /** A new text; edits of the same `field` in quick succession are one step of undoing. */
  edit(text: string, field = ""): void {
    if (text === this.text.value) return;
    const now = Date.now();
    const goesOn = field !== "" && field === this.lastField && now - this.lastTime < withinOneStep;
    this.lastField = field;
    this.lastTime = now;
    const { past } = this.steps.value;
    this.change(text, { past: goesOn && past.length > 0 ? past : [...past, this.text.value].slice(-mostSteps), future: [] });
  }

  undo(): void {
    const { past, future } = this.steps.value;
    const text = past[past.length - 1];
    if (text === undefined) return;
    this.lastField = "";
    this.change(text, { past: past.slice(0, -1), future: [...future, this.text.value] });
  }

  redo(): void {
    const { past, future } = this.steps.value;
    const text = future[future.length - 1];
    if (text === undefined) return;
    this.lastField = "";
    this.change(text, { past: [...past, this.text.value], future: future.slice(0, -1) });
  }

  private change(text: string, steps: Steps): void {
    batch(() => {
      this.text.value = text;
      this.steps.value = steps;
      if (this.state.value !== "parted") this.state.value = "unsaved";
    });
    keep(sessionStorage, this.key("steps"), steps);
    keep(localStorage, this.key("unsaved"), { text, etag: this.etag } satisfies Backup);
    if (this.state.value !== "parted") this.later(pauseBeforeSaving);
  }

  private later(pause: number): void {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.save(), pause);
  }

  /** Saves now what is not saved. */
  async save(): Promise<void> {
    if (this.busy || this.state.value === "parted" || this.state.value === "saved") return;
    clearTimeout(this.timer);
    this.busy = true;
    const text = this.text.value;
    try {
      const answer = await put(this.path + "?draft=1", text, this.etag);
      this.etag = answer.etag;
      this.saved = text;
      keep(localStorage, this.key("known"), { text, etag: this.etag } satisfies Backup);
      if (this.text.value === text) {
        localStorage.removeItem(this.key("unsaved"));
        batch(() => {
          this.state.value = "saved";
          this.problem.value = "";
        });
      } else {
        keep(localStorage, this.key("unsaved"), { text: this.text.value, etag: this.etag } satisfies Backup);
        this.later(pauseBeforeSaving);
      }
      channel?.postMessage({ kind: this.kind, name: this.name });
    } catch (problem) {
      if (problem instanceof Refused && (problem.status === 412 || problem.status === 428)) {
        this.busy = false;
        await this.lookAgain();
        return;
      }
      batch(() => {
        if (problem instanceof Refused) this.state.value = "refused";
        this.problem.value = problem instanceof Error ? problem.message : String(problem);
      });
    } finally {
      this.busy = false;
    }
  }

  /* Whether another tab or program has saved something else meanwhile. */
  private async lookAgain(): Promise<void> {
    if (this.busy || this.state.value === "loading") return;
    try {
      const answer = await get(this.path);
      if (this.busy) return;
      const text = answer.body as string;
      const own = this.text.value;
      const moved = answer.etag !== this.etag;
      this.etag = answer.etag;
      if (text === own) this.settle(text);
      else if (own === this.saved) this.settle(text);
      else if (moved || this.state.value === "parted") this.part(own, text);
      else this.later(0);
    } catch (problem) {
      if (problem instanceof Refused && problem.status === 404 && reachable.value) {
        this.etag = null;
        if (this.state.value === "saved") this.part(this.text.value, null);
        else if (this.state.value !== "absent") this.later(0);
      }
    }
  }

  /** While parted: keep this tab's text, and save it over the other. */
  keepMine(): void {
    this.state.value = "unsaved";
    this.theirs.value = null;
    this.later(0);
  }

  /** While parted: take the other's text; this tab's own stays one step back. */
  takeTheirs(): void {
    const theirs = this.theirs.value;
    if (theirs === null) return;
    const { past } = this.steps.value;
    const steps = { past: [...past, this.text.value].slice(-mostSteps), future: [] };
    this.steps.value = steps;
    keep(sessionStorage, this.key("steps"), steps);
    this.settle(theirs);
  }

  /** Removes it from the workspace. */
  async remove(): Promise<void> {
    clearTimeout(this.timer);
    if (this.etag !== null) await remove(this.path, this.etag);
    forget(this.kind, this.name);
    this.state.value = "absent";
    channel?.postMessage({ kind: this.kind, name: this.name });
  }

  /** Ends the watching; what waits to be saved is saved. */
  close(): void {
    if (this.state.value === "unsaved") void this.save();
    for (const end of this.endings) end();
  }
}

/** Lets go of what this browser has kept of a text that has been removed. */
export function forget(kind: Kind, name: string): void {
  for (const what of ["unsaved", "known"]) localStorage.removeItem(`dryfront/${what}/${kind}/${name}`);
  sessionStorage.removeItem(`dryfront/steps/${kind}/${name}`);
}

/** Hears of every text that another tab has saved or removed. */
export function onOtherTab(then: () => void): () => void {
  channel?.addEventListener("message", then);
  return () => channel?.removeEventListener("message", then);
}

/** Tells the other tabs that the workspace has changed. */
export function tellOtherTabs(kind: Kind, name: string): void {
  channel?.postMessage({ kind, name });
}
