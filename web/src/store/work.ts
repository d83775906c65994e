/* One long question to the server, asked by a button: its progress, its answer, and how to stop it. */
import { batch, signal } from "@preact/signals";
import { askLater, type Progress, Refused, Unreachable } from "../api/client";
import { t } from "../text/text";

export class Work<T> {
  readonly answer = signal<T | null>(null);
  readonly progress = signal<Progress | null>(null);
  readonly problem = signal("");
  /** What the answer is of; compare with the present text to tell whether it is out of date. */
  readonly of = signal("");
  private abort: AbortController | null = null;

  /** Asks; what runs already is stopped. */
  async ask(path: string, request: object, of: string): Promise<void> {
    this.stop();
    const abort = new AbortController();
    this.abort = abort;
    batch(() => {
      this.progress.value = { share: null, text: "" };
      this.problem.value = "";
    });
    try {
      const answer = await askLater<T>(path, request, abort.signal, (now) => (this.progress.value = now));
      if (abort.signal.aborted) return;
      batch(() => {
        this.answer.value = answer;
        this.of.value = of;
      });
    } catch (problem) {
      if (abort.signal.aborted) return;
      if (problem instanceof Refused) this.problem.value = problem.message;
      else if (problem instanceof Unreachable) this.problem.value = t("server.unreachable");
      else throw problem;
    } finally {
      if (this.abort === abort) {
        this.abort = null;
        this.progress.value = null;
      }
    }
  }

  stop(): void {
    this.abort?.abort();
    this.abort = null;
    this.progress.value = null;
  }
}

/** How far it is, in words: what is done, and its share. */
export function farText(now: Progress): string {
  if (now.share === null) return t("asking.waits");
  const share = `${Math.floor(100 * now.share)} %`;
  return now.text === "" ? share : `${now.text}, ${share}`;
}
