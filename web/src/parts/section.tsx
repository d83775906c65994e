/* What the forms are put together from: a part with its heading, and the button that takes an entry out. */
import type { ComponentChildren } from "preact";
import type { Path } from "../store/yaml";
import { t } from "../text/text";
import { PathFault } from "./fields";

/** 0, 1, …, n - 1. */
export const range = (n: number) => Array.from({ length: n }, (_, i) => i);

/** `path`: whose fault is said right under the heading. */
export function Section({ title, path, children, action }: { title: string; path?: Path; children: ComponentChildren; action?: ComponentChildren }) {
  return (
    <section class="part stack" aria-label={title}>
      <h2>
        {title}
        {action}
      </h2>
      {path && <PathFault path={path} />}
      {children}
    </section>
  );
}

export function RemoveButton({ what, disabled = false, onClick }: { what: string; disabled?: boolean; onClick: () => void }) {
  return (
    <button class="plain" type="button" disabled={disabled} aria-label={t("form.remove", { what })} title={t("form.remove", { what })} onClick={onClick}>
      <span aria-hidden="true">×</span>
    </button>
  );
}
