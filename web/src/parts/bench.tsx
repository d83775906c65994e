/* One text of the workspace on its page: a form on one side, the answer or the text itself on the other. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect, useMemo } from "preact/hooks";
import type { Refused } from "../api/client";
import { Check } from "../store/check";
import type { Described } from "../store/forms";
import { Kept, type Kind } from "../store/kept";
import { address, path } from "../store/place";
import { changed } from "../store/workspace";
import type { Yaml } from "../store/yaml";
import { t } from "../text/text";
import { FormContext } from "./fields";
import { YamlText } from "./yaml_text";

/** A text of the workspace and whether it can be used, for as long as the page is open; `form`: what it is checked as. */
export function useKept(kind: Kind, name: string, form: string): { kept: Kept; check: Check } {
  const kept = useMemo(() => new Kept(kind, name), [kind, name]);
  const check = useMemo(() => new Check(kept, form), [kept]);
  useEffect(() => {
    void kept.load();
    return () => {
      check.close();
      kept.close();
    };
  }, [kept, check]);
  const state = kept.state.value;
  useEffect(() => {
    if (state === "saved") changed(kind);
  }, [state, kept.text.value]);
  return { kept, check };
}

/** In place of a text that is loading or is not there; null where it is. */
export function Missing({ kept, absent, back }: { kept: Kept; absent: string; back: ComponentChildren }) {
  if (kept.state.value === "loading") return <p class="quiet">{t("loading")}</p>;
  return (
    <div class="stack">
      <h1>{absent}</h1>
      <p>{back}</p>
    </div>
  );
}

interface Given {
  /** Address of the page, without its view. */
  at: string[];
  title: string;
  above?: ComponentChildren;
  tools: ComponentChildren;
  below?: ComponentChildren;
  /** Names of the form's side and of the answer's tab. */
  formName: string;
  answerName: string;
  yaml: Yaml;
  form: Described | null;
  fault: Refused | null;
  /** null: it can only be read. */
  edit: ((text: string, field: string) => void) | null;
  /** Meanings of fields are shown under them. */
  hints?: boolean;
  textHint: string;
  editor: ComponentChildren;
  answer: () => ComponentChildren;
}

export function Bench({ at, title, above, tools, below, formName, answerName, yaml, form, fault, edit, hints = false, textHint, editor, answer }: Given) {
  const side = useSignal<"form" | "answer">(path.value[2] === undefined ? "form" : "answer");
  const asText = path.value[2] === "text";
  useEffect(() => {
    document.title = `${title} · dryfront`;
  }, [title]);
  return (
    <FormContext.Provider value={{ yaml, edit: edit ?? (() => undefined), fault, described: form, fixed: edit === null, hints }}>
      <div class="stack">
        {above}
        <div class="row between">
          <h1>{title}</h1>
          {tools}
        </div>
        {below}
        <div class="switch no-print">
          <div class="segments" role="group" aria-label={t("job.side")}>
            <button aria-pressed={side.value === "form"} onClick={() => (side.value = "form")}>{formName}</button>
            <button aria-pressed={side.value === "answer"} onClick={() => (side.value = "answer")}>{t("dryer.side.answer")}</button>
          </div>
          {fault !== null && <span class="wrong small">{t("dryer.faulty")}</span>}
        </div>
        <div class="bench wide" data-side={side.value === "form" ? "sample" : "answer"}>
          <div class="editor sheet">
            {yaml.problem !== null ? <p class="note alarm" role="alert">{t("job.no_yaml", { why: yaml.problem })}</p> : form === null ? <p class="quiet">{t("field.no_description")}</p> : editor}
          </div>
          <div class="answers stack">
            <nav class="tabs" aria-label={t("dryer.views")}>
              <a href={address(at, {})} aria-current={asText ? undefined : "page"}>{answerName}</a>
              <a href={address([...at, "text"])} aria-current={asText ? "page" : undefined}>{t("job.text")}</a>
            </nav>
            {fault !== null && <p class="note alarm">{t("dryer.fault")} {fault.message}</p>}
            {asText ? <YamlText text={yaml.text} fault={fault} edit={edit} hint={textHint} /> : answer()}
          </div>
        </div>
      </div>
    </FormContext.Provider>
  );
}
