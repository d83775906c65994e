/* One container, solute or substance of the workspace's own: its file as a form, and what the program makes of it. */
import { useComputed, useSignal } from "@preact/signals";
import { useEffect, useMemo } from "preact/hooks";
import { ContainerDrawing, type Measures } from "../parts/container_drawing";
import { DescribedFields } from "../parts/described_form";
import { amountOf, FormContext } from "../parts/fields";
import { KeptBar, KeptTools } from "../parts/kept_bar";
import { SubstanceSheet } from "../parts/substance_sheet";
import { YamlText } from "../parts/yaml_text";
import { Check } from "../store/check";
import { described } from "../store/forms";
import { Kept } from "../store/kept";
import { address, path } from "../store/place";
import { changed, containers, solutes, substances } from "../store/workspace";
import { Yaml } from "../store/yaml";
import { t } from "../text/text";

type Item = "container" | "solute" | "substance";
const kinds = { container: "containers", solute: "solutes", substance: "substances" } as const;

export default function ItemPage() {
  const [first = "", name = ""] = path.value;
  if (!(first in kinds) || name === "") return null;
  const item = first as Item;
  return <Bench key={`${item} ${name}`} item={item} name={name} />;
}

function Bench({ item, name }: { item: Item; name: string }) {
  const kind = kinds[item];
  const kept = useMemo(() => new Kept(kind, name), [kind, name]);
  const check = useMemo(() => new Check(kept, item), [kept]);
  useEffect(() => {
    void kept.load();
    return () => {
      check.close();
      kept.close();
    };
  }, [kept, check]);
  const form = described(item).value;
  const yaml = useComputed(() => new Yaml(kept.text.value));
  const side = useSignal<"form" | "answer">(path.value[2] === undefined ? "form" : "answer");
  const state = kept.state.value;
  const known = kept.text.value;
  useEffect(() => {
    if (state === "saved") changed(kind);
  }, [state, known]);
  const key = yaml.value.at(["key"]);
  const title = yaml.value.at(["name"]) || key || name;
  useEffect(() => {
    document.title = `${title} · dryfront`;
  }, [title]);

  if (state === "loading") return <p class="quiet">{t("loading")}</p>;
  if (state === "absent") {
    return (
      <div class="stack">
        <h1>{t("item.absent", { name })}</h1>
        <p><a href={address(["library", kind])}>{t("nav.library")}</a></p>
      </div>
    );
  }
  const fault = check.fault.value;
  const tab = path.value[2] === "text" ? "text" : "answer";
  const homeless = fault !== null && (fault.field === null ? fault.line === null : form !== null && !form.knows(fault.field));
  return (
    <FormContext.Provider value={{ yaml: yaml.value, edit: (text, field) => kept.edit(text, field), fault, described: form, hints: true }}>
      <div class="stack">
        <p class="small no-print"><a href={address(["library", kind])}>{t("nav.library")}: {t(`library.${kind}`)}</a></p>
        <div class="row between">
          <h1>{title}</h1>
          <KeptTools kept={kept} />
        </div>
        <KeptBar kept={kept} />
        <div class="switch no-print">
          <div class="segments" role="group" aria-label={t("job.side")}>
            <button aria-pressed={side.value === "form"} onClick={() => (side.value = "form")}>{t(`item.${item}`)}</button>
            <button aria-pressed={side.value === "answer"} onClick={() => (side.value = "answer")}>{t("dryer.side.answer")}</button>
          </div>
          {fault !== null && <span class="wrong small">{t("dryer.faulty")}</span>}
        </div>
        <div class="bench wide" data-side={side.value === "form" ? "sample" : "answer"}>
          <div class="editor sheet">
            {yaml.value.problem !== null ? <p class="note alarm" role="alert">{t("job.no_yaml", { why: yaml.value.problem })}</p> : form === null ? <p class="quiet">{t("field.no_description")}</p> : (
              <form class="stack" onSubmit={(event) => event.preventDefault()} aria-label={title}>
                {homeless && <p class="note alarm" role="alert">{fault.message}</p>}
                <p class="small quiet">{t(`item.hint.${item}`)}</p>
                <DescribedFields />
              </form>
            )}
          </div>
          <div class="answers stack">
            <nav class="tabs" aria-label={t("dryer.views")}>
              <a href={address([item, name])} aria-current={tab === "answer" ? "page" : undefined}>{t(item === "container" ? "item.drawn" : "item.sheet")}</a>
              <a href={address([item, name, "text"])} aria-current={tab === "text" ? "page" : undefined}>{t("job.text")}</a>
            </nav>
            {fault !== null && <p class="note alarm">{t("dryer.fault")} {fault.message}</p>}
            {tab === "text" ? (
              <YamlText text={kept.text.value} fault={fault} edit={(text, field) => kept.edit(text, field)} hint={t(`item.text.${item}`)} />
            ) : item === "container" ? (
              <Drawn yaml={yaml.value} />
            ) : (
              <Sheet item={item} name={key} />
            )}
          </div>
        </div>
      </div>
    </FormContext.Provider>
  );
}

/** The outline from the figures as they stand in the form, as far as they can be drawn. */
function Drawn({ yaml }: { yaml: Yaml }) {
  const length = (field: string) => amountOf(yaml.at([field]), "length");
  const inner = length("inner_diameter");
  const wall = length("wall");
  const kind = yaml.at(["kind"]);
  const sphere = inner === null ? null : ((Math.PI / 6) * inner ** 3) / 1000;
  const volume = amountOf(yaml.at(["brim_volume"]), "volume") ?? (kind === "flask" ? sphere : null);
  if (inner === null || volume === null || !(inner > 0) || !(volume > 0)) return <p class="quiet">{t("item.not_drawn")}</p>;
  const of: Measures = {
    key: yaml.at(["key"]), name: yaml.at(["name"]), kind, brim_volume_mL: volume, inner_diameter_mm: inner,
    outer_diameter_mm: length("outer_diameter") ?? (wall === null ? null : inner + 2 * wall), port_diameter_mm: length("port_diameter"),
  };
  const known = containers.value.find((one) => one.own === true && one.key === of.key);
  return (
    <section class="sheet stack" aria-label={t("item.drawn")}>
      <h2 class="only-read">{t("item.drawn")}</h2>
      <ContainerDrawing of={of} title={of.name ? `${of.key}: ${of.name}` : of.key} />
      {known === undefined && <p class="small faint">{t("item.not_in_use")}</p>}
      <p class="small caution">{t("item.caution.container")}</p>
    </section>
  );
}

function Sheet({ item, name }: { item: "solute" | "substance"; name: string }) {
  const all: { key: string; own?: boolean }[] = item === "solute" ? solutes.value : substances.value;
  return all.some((one) => one.key === name && one.own === true) ? <SubstanceSheet name={name} beside /> : <p class="quiet">{t("item.no_sheet")}</p>;
}
