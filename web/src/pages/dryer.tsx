/* One dryer: its file as a form, and what it means for a few solvents. Built-in ones are shown in the same form. */
import { useComputed, useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect, useMemo } from "preact/hooks";
import { reachable, type Refused } from "../api/client";
import { DryerForm } from "../parts/dryer_form";
import { DryerCeilings } from "../parts/dryer_ceilings";
import { FormContext } from "../parts/fields";
import { download } from "../parts/figure";
import { KeptBar, KeptTools } from "../parts/kept_bar";
import { YamlText } from "../parts/yaml_text";
import { Check } from "../store/check";
import { builtInText } from "../store/dryer_texts";
import { described } from "../store/forms";
import { Kept } from "../store/kept";
import { address, go, path } from "../store/place";
import { add, builtInDryers, changed, dryers } from "../store/workspace";
import { Yaml } from "../store/yaml";
import { t } from "../text/text";

export default function DryerPage() {
  const [first, name = ""] = path.value;
  if (first !== "dryer" || name === "") return null;
  const own = dryers.value?.some((one) => one.name === name) === true;
  const builtIn = builtInDryers.value.some((one) => one.key === name);
  if (!own && builtIn) return <BuiltIn key={name} name={name} />;
  if (!own && reachable.value && (dryers.value === null || builtInDryers.value.length === 0)) return <p class="quiet">{t("loading")}</p>;
  return <Bench key={name} name={name} />;
}

interface Shown {
  name: string;
  text: string;
  /** The newest text that can be used; "" where there is none. */
  sound: string;
  fault: Refused | null;
  edit: ((text: string, field: string) => void) | null;
  tools: ComponentChildren;
  above?: ComponentChildren;
}

function Bench({ name }: { name: string }) {
  const kept = useMemo(() => new Kept("dryers", name), [name]);
  const check = useMemo(() => new Check(kept, "dryer"), [kept]);
  useEffect(() => {
    void kept.load();
    return () => {
      check.close();
      kept.close();
    };
  }, [kept, check]);
  const state = kept.state.value;
  const text = kept.text.value;
  useEffect(() => {
    if (state === "saved") changed("dryers");
  }, [state, text]);
  if (state === "loading") return <p class="quiet">{t("loading")}</p>;
  if (state === "absent") {
    return (
      <div class="stack">
        <h1>{t("dryer.absent", { name })}</h1>
        <p><a href={address(["dryers"])}>{t("dryers.title")}</a></p>
      </div>
    );
  }
  return (
    <DryerView
      name={name}
      text={text}
      sound={check.sound.value}
      fault={check.fault.value}
      edit={(text, field) => kept.edit(text, field)}
      tools={<KeptTools kept={kept} />}
      above={<KeptBar kept={kept} />}
    />
  );
}

function BuiltIn({ name }: { name: string }) {
  const text = useSignal<string | null>(null);
  useEffect(() => {
    void builtInText(name).then((found) => (text.value = found), () => undefined);
  }, [name]);
  if (text.value === null) return <p class="quiet">{t(reachable.value ? "loading" : "server.unreachable")}</p>;
  const yaml = text.value;
  const tools = (
    <div class="row no-print">
      <button class="main" onClick={() => void add("dryers", name, yaml).then((mine) => go(["dryer", mine]))}>{t("dryers.mine")}</button>
      <button onClick={() => download(`${name}.yaml`, yaml, "application/yaml")}>{t("kept.export")}</button>
    </div>
  );
  return <DryerView name={name} text={yaml} sound={yaml} fault={null} edit={null} tools={tools} above={<p class="note small quiet">{t("dryer.builtin")}</p>} />;
}

function DryerView({ name, text, sound, fault, edit, tools, above }: Shown) {
  const form = described("dryer").value;
  const shown = useSignal(text);
  shown.value = text;
  const yaml = useComputed(() => new Yaml(shown.value));
  const side = useSignal<"form" | "answer">(path.value[2] === undefined ? "form" : "answer");
  const tab = path.value[2] === "text" ? "text" : "ceilings";
  const title = yaml.value.at(["name"]) || name;
  useEffect(() => {
    document.title = `${title} · dryfront`;
  });
  return (
    <FormContext.Provider value={{ yaml: yaml.value, edit: edit ?? (() => undefined), fault, described: form, fixed: edit === null }}>
      <div class="stack">
        <div class="row between">
          <h1>{title}</h1>
          {tools}
        </div>
        {above}
        <div class="switch no-print">
          <div class="segments" role="group" aria-label={t("job.side")}>
            <button aria-pressed={side.value === "form"} onClick={() => (side.value = "form")}>{t("dryer.side.form")}</button>
            <button aria-pressed={side.value === "answer"} onClick={() => (side.value = "answer")}>{t("dryer.side.answer")}</button>
          </div>
          {fault !== null && <span class="wrong small">{t("dryer.faulty")}</span>}
        </div>
        <div class="bench wide" data-side={side.value === "form" ? "sample" : "answer"}>
          <div class="editor sheet">
            {yaml.value.problem !== null ? <p class="note alarm" role="alert">{t("job.no_yaml", { why: yaml.value.problem })}</p> : form === null ? <p class="quiet">{t("field.no_description")}</p> : <DryerForm />}
          </div>
          <div class="answers stack">
            <nav class="tabs" aria-label={t("dryer.views")}>
              <a href={address(["dryer", name], {})} aria-current={tab === "ceilings" ? "page" : undefined}>{t("dryer.ceilings")}</a>
              <a href={address(["dryer", name, "text"])} aria-current={tab === "text" ? "page" : undefined}>{t("job.text")}</a>
            </nav>
            {fault !== null && <p class="note alarm">{t("dryer.fault")} {fault.message}</p>}
            {tab === "text" ? <YamlText text={text} fault={fault} edit={edit} hint={t("dryer.text.hint")} /> : <DryerCeilings name={name} own={edit !== null} text={text} sound={sound} />}
          </div>
        </div>
      </div>
    </FormContext.Provider>
  );
}
