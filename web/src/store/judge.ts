/* How the job on the screen stands: asked anew at each change, the newest answer wins. First the quick answer, while one
   types; then, when the hand rests, the whole one with its bands and what would have to change. */
import { batch, effect, signal } from "@preact/signals";
import type { Standing } from "../api/types";
import { ask, askLater, onReturn, type Progress, Refused, Unreachable } from "../api/client";
import { keepAnswer, keptAnswer } from "./answers";
import type { Kept } from "./kept";
import { generation } from "./workspace";

const restBeforeWhole = 700; // ms

export class Judge {
  /** The newest answer; it stays on the screen while the next is awaited or the text is at fault. */
  readonly answer = signal<Standing | null>(null);
  /** The answer is of an older text. */
  readonly stale = signal(false);
  /** Why the present text cannot be judged. */
  readonly fault = signal<Refused | null>(null);
  /** Bands and remedies: null while they are not there. */
  readonly whole = signal<Standing | null>(null);
  readonly progress = signal<Progress | null>(null);
  /** The server is not reachable: the present text has no answer, or the one that this browser has kept. */
  readonly gone = signal(false);
  /** When the answer shown was given, where it is a kept one; ms since 1970. */
  readonly keptFrom = signal<number | null>(null);
  /** ms from the change to the answer, as the reader has waited. */
  readonly waited = signal<number | null>(null);

  private abort = new AbortController();
  private timer: ReturnType<typeof setTimeout> | undefined;
  private readonly endings: (() => void)[] = [];

  constructor(private readonly kept: Kept) {
    this.endings.push(
      effect(() => {
        const text = kept.text.value;
        generation.value;
        if (kept.state.value !== "loading" && kept.state.value !== "absent") this.begin(text);
      }),
      onReturn(() => this.begin(kept.text.peek(), true)),
    );
  }

  private asked = "";
  private askedGeneration = -1;

  private begin(text: string, again = false): void {
    if (!again && text === this.asked && generation.peek() === this.askedGeneration) return;
    this.asked = text;
    this.askedGeneration = generation.peek();
    this.abort.abort();
    clearTimeout(this.timer);
    const abort = new AbortController();
    this.abort = abort;
    const began = performance.now();
    batch(() => {
      this.stale.value = this.answer.peek() !== null;
      this.whole.value = null;
      this.progress.value = null;
    });
    void ask<Standing>("stand", { job: text, quick: true }, abort.signal).then(
      (answer) => {
        if (abort.signal.aborted) return;
        batch(() => {
          this.answer.value = answer;
          this.stale.value = false;
          this.fault.value = null;
          this.gone.value = false;
          this.keptFrom.value = null;
          this.waited.value = performance.now() - began;
        });
        void keepAnswer(this.kept.name, text, answer);
        this.timer = setTimeout(() => void this.askWhole(text, abort), restBeforeWhole);
      },
      (problem: unknown) => {
        if (abort.signal.aborted) return;
        if (problem instanceof Unreachable) void this.withoutServer(text, abort);
        else if (problem instanceof Refused) this.fault.value = problem;
        else throw problem;
      },
    );
  }

  private async withoutServer(text: string, abort: AbortController): Promise<void> {
    this.gone.value = true;
    const found = await keptAnswer(this.kept.name, text);
    if (found === null || abort.signal.aborted) return;
    batch(() => {
      this.answer.value = found.answer;
      this.whole.value = found.answer.bands === null ? null : found.answer;
      this.stale.value = false;
      this.keptFrom.value = found.at;
    });
  }

  private async askWhole(text: string, abort: AbortController): Promise<void> {
    try {
      this.progress.value = { share: null, text: "" };
      const answer = await askLater<Standing>("stand", { job: text }, abort.signal, (now) => (this.progress.value = now));
      if (abort.signal.aborted) return;
      batch(() => {
        this.whole.value = answer;
        this.answer.value = answer;
      });
      void keepAnswer(this.kept.name, text, answer);
    } catch (problem) {
      if (!(problem instanceof DOMException || problem instanceof Unreachable || problem instanceof Refused)) throw problem;
    } finally {
      if (!abort.signal.aborted) this.progress.value = null;
    }
  }

  close(): void {
    this.abort.abort();
    clearTimeout(this.timer);
    for (const end of this.endings) end();
  }
}
