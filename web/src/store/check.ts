/* Whether a text can be used as it stands, asked while one types. The newest answer wins. */
import { batch, effect, signal } from "@preact/signals";
import { ask, onReturn, Refused, Unreachable } from "../api/client";
import type { Kept } from "./kept";
import { generation } from "./workspace";

const pauseBeforeAsking = 120; // ms

interface Checked {
  sound: boolean;
  error: { message: string; line: number | null; field: string | null } | null;
}

export class Check {
  /** Why the present text cannot be used; null where it can, or where that is not known yet. */
  readonly fault = signal<Refused | null>(null);
  /** The newest text that can be used; "" before there was one. */
  readonly sound = signal("");

  private abort = new AbortController();
  private timer: ReturnType<typeof setTimeout> | undefined;
  private readonly endings: (() => void)[] = [];

  constructor(
    private readonly kept: Kept,
    form: string,
  ) {
    const begin = (text: string) => {
      this.abort.abort();
      clearTimeout(this.timer);
      const abort = new AbortController();
      this.abort = abort;
      this.timer = setTimeout(() => void this.look(text, form, abort), pauseBeforeAsking);
    };
    this.endings.push(
      effect(() => {
        const text = kept.text.value;
        generation.value;
        if (kept.state.value !== "loading" && kept.state.value !== "absent") begin(text);
      }),
      onReturn(() => begin(kept.text.peek())),
    );
  }

  private async look(text: string, form: string, abort: AbortController): Promise<void> {
    try {
      const { error } = await ask<Checked>(`check/${form}`, { text, name: this.kept.name }, abort.signal);
      if (abort.signal.aborted) return;
      batch(() => {
        this.fault.value = error === null ? null : new Refused(422, error.message, error.line, error.field);
        if (error === null) this.sound.value = text;
      });
    } catch (problem) {
      if (abort.signal.aborted || problem instanceof Unreachable) return;
      if (!(problem instanceof Refused)) throw problem;
      this.fault.value = problem;
    }
  }

  close(): void {
    this.abort.abort();
    clearTimeout(this.timer);
    for (const end of this.endings) end();
  }
}
