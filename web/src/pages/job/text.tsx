/* The job as it is written into its file. */
import { useId } from "preact/hooks";
import { t } from "../../text/text";
import type { JobGiven } from "../job";

export function TextPage({ kept, judge }: JobGiven) {
  const id = useId();
  const fault = judge.fault.value;
  return (
    <section class="sheet stack" aria-label={t("job.text")}>
      <label for={id} class="small quiet">{t("text.hint")}</label>
      <textarea
        id={id}
        rows={Math.min(Math.max(kept.text.value.split("\n").length + 2, 18), 60)}
        spellcheck={false}
        value={kept.text.value}
        aria-invalid={fault !== null}
        onInput={(event) => kept.edit(event.currentTarget.value, "text")}
      />
      {fault?.line != null && <p class="wrong">{t("text.line", { line: fault.line })}</p>}
    </section>
  );
}
