/* Whether a text can be used as it stands, asked while one types. The newest answer wins. */
import { batch, effect, signal } from "@preact/signals";
import { ask, get, onReturn, Refused, Unreachable } from "../api/client";
import type { Kept } from "./kept";
import { generation } from "./workspace";

const pauseBeforeAsking = 120; // ms

/* "mine.yaml:3: wall: should be ..." taken apart; of what is missing the field that should be there. */
function refusalOf(message: string): Refused {
  const found = /^[^:]+:(\d+): (?:([\w.[\]]+): )?(?:the key '(\w+)' is missing)?/.exec(message);
  if (found === null) return new Refused(422, message);
  const field = [found[2], found[3]].filter((step) => step !== undefined).join(".");
  return new Refused(422, message, Number(found[1]), field === "" ? null : field);
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
      await ask(`check/${form}`, { text }, abort.signal);
      if (abort.signal.aborted) return;
      batch(() => {
        this.fault.value = null;
        this.sound.value = text;
      });
    } catch (problem) {
      if (abort.signal.aborted || problem instanceof Unreachable) return;
      if (!(problem instanceof Refused)) throw problem;
      if (problem.status === 404) await this.lookInList(text, abort);
      else this.fault.value = problem;
    }
  }

  /* A kind that cannot be asked about: what the list of the workspace says of it once it is saved. */
  private async lookInList(text: string, abort: AbortController): Promise<void> {
    const { kind, name } = this.kept;
    if (this.kept.state.peek() !== "saved") {
      this.timer = setTimeout(() => void this.lookInList(text, abort), 200);
      return;
    }
    try {
      const all = ((await get(`workspace/${kind}`)).body as Record<string, { name: string; sound: boolean; problem: string | null }[]>)[kind] ?? [];
      const one = all.find((listed) => listed.name === name);
      if (abort.signal.aborted || one === undefined) return;
      batch(() => {
        this.fault.value = one.problem === null ? null : refusalOf(one.problem);
        if (one.problem === null) this.sound.value = text;
      });
    } catch (problem) {
      if (!(problem instanceof Unreachable || problem instanceof Refused)) throw problem;
    }
  }

  close(): void {
    this.abort.abort();
    clearTimeout(this.timer);
    for (const end of this.endings) end();
  }
}
