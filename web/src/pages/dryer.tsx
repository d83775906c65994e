/* One dryer: its file as a form, and what it means for a few solvents. Built-in ones are shown in the same form. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect, useMemo } from "preact/hooks";
import { reachable, type Refused } from "../api/client";
import { Bench, Missing, useKept } from "../parts/bench";
import { DryerForm } from "../parts/dryer_form";
import { DryerCeilings } from "../parts/dryer_ceilings";
import { download } from "../parts/figure";
import { KeptBar, KeptTools } from "../parts/kept_bar";
import { builtInText } from "../store/dryer_texts";
import { described } from "../store/forms";
import { address, go, path } from "../store/place";
import { add, builtInDryers, dryers } from "../store/workspace";
import { Yaml } from "../store/yaml";
import { t } from "../text/text";

export default function DryerPage() {
  const [first, name = ""] = path.value;
  if (first !== "dryer" || name === "") return null;
  const own = dryers.value?.some((one) => one.name === name) === true;
  const builtIn = builtInDryers.value.some((one) => one.key === name);
  if (!own && builtIn) return <BuiltIn key={name} name={name} />;
  if (!own && reachable.value && (dryers.value === null || builtInDryers.value.length === 0)) return <p class="quiet">{t("loading")}</p>;
  return <Own key={name} name={name} />;
}

interface Shown {
  name: string;
  text: string;
  /** The newest text that can be used; "" where there is none. */
  sound: string;
  fault: Refused | null;
  edit: ((text: string, field: string) => void) | null;
  tools: ComponentChildren;
  below: ComponentChildren;
}

function Own({ name }: { name: string }) {
  const { kept, check } = useKept("dryers", name, "dryer");
  if (kept.state.value === "loading" || kept.state.value === "absent") return <Missing kept={kept} absent={t("dryer.absent", { name })} back={<a href={address(["dryers"])}>{t("dryers.title")}</a>} />;
  return (
    <DryerView
      name={name}
      text={kept.text.value}
      sound={check.sound.value}
      fault={check.fault.value}
      edit={(text, field) => kept.edit(text, field)}
      tools={<KeptTools kept={kept} />}
      below={<KeptBar kept={kept} />}
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
  return <DryerView name={name} text={yaml} sound={yaml} fault={null} edit={null} tools={tools} below={<p class="note small quiet">{t("dryer.builtin")}</p>} />;
}

function DryerView({ name, text, sound, fault, edit, tools, below }: Shown) {
  const yaml = useMemo(() => new Yaml(text), [text]);
  return (
    <Bench
      at={["dryer", name]}
      title={yaml.at(["name"]) || name}
      tools={tools}
      below={below}
      formName={t("dryer.side.form")}
      answerName={t("dryer.ceilings")}
      yaml={yaml}
      form={described("dryer").value}
      fault={fault}
      edit={edit}
      textHint={t("dryer.text.hint")}
      editor={<DryerForm />}
      answer={() => <DryerCeilings name={name} own={edit !== null} text={text} sound={sound} />}
    />
  );
}
