/* The quiet word after something has been taken over, with the way back; and why it could not be. */
import type { Kept } from "../store/kept";
import { taken, takingProblem } from "../store/take";
import { t } from "../text/text";

export function TakenNote({ kept }: { kept: Kept }) {
  const last = taken.value;
  if (takingProblem.value !== "") return <p class="note alarm" role="alert">{t("taken.problem", { why: takingProblem.value })}</p>;
  const shown = last !== null && last.job === kept.name && last.text === kept.text.value;
  return (
    <div role="status" class={shown ? "row small" : "only-read"}>
      {shown && (
        <>
          <span>{t("taken")}</span>
          <button class="plain no-print" onClick={() => kept.undo()}>{t("kept.undo")}</button>
        </>
      )}
    </div>
  );
}
