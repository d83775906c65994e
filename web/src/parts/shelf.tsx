/* What the lists of the workspace share: trying what may be refused, files brought from elsewhere, what was removed and its way back. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useRef } from "preact/hooks";
import type { Kind } from "../store/kept";
import { bring, changed, putBack, reasonOf, type Removed, take } from "../store/workspace";
import { t } from "../text/text";

/** `tried` does something that the server may refuse; `problem` is why it did. */
export function useTried(): { problem: ComponentChildren; say: (text: string) => void; tried: (what: () => Promise<void>) => Promise<void> } {
  const problem = useSignal("");
  const tried = async (what: () => Promise<void>) => {
    problem.value = "";
    try {
      await what();
    } catch (reason) {
      problem.value = reasonOf(reason);
    }
  };
  return { problem: problem.value !== "" && <p class="note alarm" role="alert">{problem.value}</p>, say: (text) => (problem.value = text), tried };
}

/** A button that takes files; `said` hears what became of them. */
export function BringButton({ label, title, kindOf, said }: { label: string; title?: string; kindOf: (text: string) => Kind; said: (done: string[], failed: string[]) => void }) {
  const file = useRef<HTMLInputElement>(null);
  const chosen = async (files: FileList | null) => {
    const { done, failed } = await bring([...(files ?? [])], kindOf);
    if (file.current !== null) file.current.value = "";
    said(done, failed);
  };
  return (
    <>
      <button onClick={() => file.current?.click()} title={title}>{label}</button>
      <input ref={file} type="file" accept=".yaml,.yml" multiple hidden aria-label={label} onChange={(event) => void chosen(event.currentTarget.files)} />
    </>
  );
}

/** `drop` removes one of a kind; `note` says which was, with the way back. */
export function useDrop(kind: Kind, tried: (what: () => Promise<void>) => Promise<void>): { note: ComponentChildren; drop: (name: string) => void } {
  const removed = useSignal<Removed | null>(null);
  const drop = (name: string) =>
    void tried(async () => {
      removed.value = await take(kind, name);
      changed(kind);
    });
  const restore = (one: Removed) =>
    void tried(async () => {
      await putBack([one]);
      removed.value = null;
      changed(kind);
    });
  const one = removed.value;
  const note = one !== null && (
    <p class="note row" role="status">
      {t("dryers.removed", { name: one.name })}
      <button onClick={() => restore(one)}>{t("dryers.restore")}</button>
    </p>
  );
  return { note, drop };
}
