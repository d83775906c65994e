/* A long question and how far it is: one button that asks and, while it runs, stops; what the answer lacks is said below. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import type { Progress } from "../api/client";
import { stampOf } from "../store/asked";
import { farText, type Work } from "../store/work";
import { t } from "../text/text";

interface Given<T> {
  title: string;
  work: Work<T>;
  path: string;
  request: object;
  /** On the button while nothing is answered. */
  ask: string;
  /** What it costs to ask, in a sentence. */
  hint?: string;
  /** May not be asked now. */
  barred?: boolean;
  children?: ComponentChildren;
}

/** Whether the answer is of another question than the present one. */
export function outOfDate<T>(work: Work<T>, request: object): boolean {
  return work.answer.value !== null && work.of.value !== stampOf(request);
}

/** How far a long question is. */
export function Far({ label, now }: { label: string; now: Progress }) {
  return (
    <div class="asking-far">
      <progress aria-label={label} {...(now.share === null ? {} : { max: 100, value: Math.floor(100 * now.share) })} />
      <span class="small quiet">{farText(now)}</span>
    </div>
  );
}

export function Asking<T>({ title, work, path, request, ask, hint, barred = false, children }: Given<T>) {
  const now = work.progress.value;
  const running = now !== null;
  const old = outOfDate(work, request);
  const said = useSignal("");
  useEffect(() => {
    if (running) said.value = t("asking.running");
    else if (said.value !== "") said.value = work.answer.value === null ? "" : t("asking.answered");
  }, [running]);
  return (
    <section class="sheet stack no-print" aria-label={title}>
      {children}
      <div class="row">
        <button
          class={running ? "" : "main"}
          disabled={!running && barred}
          onClick={() => (running ? work.stop() : void work.ask(path, request, stampOf(request)))}
        >
          {running ? t("asking.stop") : work.answer.value === null ? ask : t("asking.again")}
        </button>
        {running ? (
          <Far label={title} now={now} />
        ) : (
          hint !== undefined && work.answer.value === null && <span class="small quiet">{hint}</span>
        )}
      </div>
      <span class="only-read" role="status">{said.value}</span>
      {work.problem.value !== "" && <p class="note alarm" role="alert">{work.problem.value}</p>}
      {old && !running && <p class="note warning" role="status">{t("asking.old")}</p>}
    </section>
  );
}
