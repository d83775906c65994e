/* A file as it is written, to be edited or only read. */
import { useId } from "preact/hooks";
import type { Refused } from "../api/client";
import { t } from "../text/text";

export function YamlText({ text, fault, edit, hint }: { text: string; fault: Refused | null; edit: ((text: string, field: string) => void) | null; hint: string }) {
  const id = useId();
  return (
    <section class="sheet stack" aria-label={t("job.text")}>
      <label for={id} class="small quiet">{hint}</label>
      <textarea
        id={id}
        rows={Math.min(Math.max(text.split("\n").length + 2, 18), 60)}
        spellcheck={false}
        readOnly={edit === null}
        value={text}
        aria-invalid={fault !== null}
        onInput={(event) => edit?.(event.currentTarget.value, "text")}
      />
      {fault?.line != null && <p class="wrong">{t("text.line", { line: fault.line })}</p>}
    </section>
  );
}
