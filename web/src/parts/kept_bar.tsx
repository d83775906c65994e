/* What stands above every text of the workspace: whether it is saved, undo and redo, and what to do where another tab or
   program has saved something else. */
import { useEffect } from "preact/hooks";
import { reachable } from "../api/client";
import type { Kept } from "../store/kept";
import { add, changed } from "../store/workspace";
import { go } from "../store/place";
import { t } from "../text/text";
import { download } from "./figure";
import { Menu } from "./menu";

const pageOf = { jobs: "job", dryers: "dryer", containers: "container", solutes: "solute", substances: "substance" } as const;

/* Where those of its kind are listed. */
function listOf({ kind }: Kept): string[] {
  return kind === "jobs" ? [] : kind === "dryers" ? ["dryers"] : ["library", kind];
}

export function KeptTools({ kept }: { kept: Kept }) {
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
      const key = event.key.toLowerCase();
      if (key === "z" && !event.shiftKey) kept.undo();
      else if (key === "y" || (key === "z" && event.shiftKey)) kept.redo();
      else if (key === "s") void kept.save();
      else return;
      event.preventDefault();
      event.stopPropagation();
    };
    document.addEventListener("keydown", onKey, true);
    return () => document.removeEventListener("keydown", onKey, true);
  }, [kept]);
  const state = kept.state.value;
  return (
    <div class="row no-print">
      <span class="small quiet" role="status">{t(state === "unsaved" && !reachable.value ? "kept.waiting" : `kept.${state}`)}</span>
      <button class="plain" disabled={!kept.canUndo.value} onClick={() => kept.undo()} title={t("kept.undo.keys")}>{t("kept.undo")}</button>
      <button class="plain" disabled={!kept.canRedo.value} onClick={() => kept.redo()} title={t("kept.redo.keys")}>{t("kept.redo")}</button>
      <Menu label={t("kept.more")}>
        <button role="menuitem" onClick={() => download(`${kept.name}.yaml`, kept.text.value, "application/yaml")}>{t("kept.export")}</button>
        <button role="menuitem" onClick={() => void navigator.clipboard.writeText(location.href)}>{t("kept.link")}</button>
        <button role="menuitem" onClick={() => print()}>{t("kept.print")}</button>
        <button role="menuitem" onClick={() => void add(kept.kind, kept.name, kept.text.value).then((name) => go([pageOf[kept.kind], name]))}>{t("kept.copy")}</button>
        <button
          role="menuitem"
          onClick={() => {
            if (confirm(t("kept.remove.sure", { name: kept.name }))) void kept.remove().then(() => { changed(kept.kind); go(listOf(kept)); });
          }}
        >
          {t("kept.remove")}
        </button>
      </Menu>
    </div>
  );
}

export function KeptBar({ kept }: { kept: Kept }) {
  if (kept.state.value === "refused") return <p class="note alarm" role="alert">{t("kept.refused.why", { why: kept.problem.value })}</p>;
  if (kept.state.value !== "parted") return null;
  const theirs = kept.theirs.value;
  return (
    <div class="caution" role="alert">
      <h2>{t("kept.parted.title")}</h2>
      <p>{theirs === null ? t("kept.parted.removed") : t("kept.parted.changed")}</p>
      <div class="row" style={{ marginTop: "8px" }}>
        <button onClick={() => kept.keepMine()}>{t("kept.parted.mine")}</button>
        {theirs !== null && <button onClick={() => kept.takeTheirs()}>{t("kept.parted.theirs")}</button>}
        <button onClick={() => void add(kept.kind, `${kept.name}-mine`, kept.text.value).then((name) => { kept.takeTheirs(); go([pageOf[kept.kind], name]); })}>{t("kept.parted.copy")}</button>
      </div>
    </div>
  );
}
