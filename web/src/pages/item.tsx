/* One container, solute or substance of the workspace's own: its file as a form, and what the program makes of it. */
import { useMemo } from "preact/hooks";
import { Bench, Missing, useKept } from "../parts/bench";
import { ContainerDrawing, type Measures } from "../parts/container_drawing";
import { DescribedFields } from "../parts/described_form";
import { amountOf } from "../parts/fields";
import { KeptBar, KeptTools } from "../parts/kept_bar";
import { SubstanceSheet } from "../parts/substance_sheet";
import { described } from "../store/forms";
import { address, path } from "../store/place";
import { containers, solutes, substances } from "../store/workspace";
import { Yaml } from "../store/yaml";
import { t } from "../text/text";

type Item = "container" | "solute" | "substance";
const kinds = { container: "containers", solute: "solutes", substance: "substances" } as const;

export default function ItemPage() {
  const [first = "", name = ""] = path.value;
  if (!(first in kinds) || name === "") return null;
  const item = first as Item;
  return <Own key={`${item} ${name}`} item={item} name={name} />;
}

function Own({ item, name }: { item: Item; name: string }) {
  const kind = kinds[item];
  const { kept, check } = useKept(kind, name, item);
  const text = kept.text.value;
  const yaml = useMemo(() => new Yaml(text), [text]);
  if (kept.state.value === "loading" || kept.state.value === "absent") return <Missing kept={kept} absent={t("item.absent", { name })} back={<a href={address(["library", kind])}>{t("nav.library")}</a>} />;
  const form = described(item).value;
  const fault = check.fault.value;
  const homeless = fault !== null && (fault.field === null ? fault.line === null : form !== null && !form.knows(fault.field));
  const key = yaml.at(["key"]);
  const title = yaml.at(["name"]) || key || name;
  return (
    <Bench
      at={[item, name]}
      title={title}
      above={<p class="small no-print"><a href={address(["library", kind])}>{t("nav.library")}: {t(`library.${kind}`)}</a></p>}
      tools={<KeptTools kept={kept} />}
      below={<KeptBar kept={kept} />}
      formName={t(`item.${item}`)}
      answerName={t(item === "container" ? "item.drawn" : "item.sheet")}
      yaml={yaml}
      form={form}
      fault={fault}
      edit={(next, field) => kept.edit(next, field)}
      hints
      textHint={t(`item.text.${item}`)}
      editor={
        <form class="stack" onSubmit={(event) => event.preventDefault()} aria-label={title}>
          {homeless && <p class="note alarm" role="alert">{fault.message}</p>}
          <p class="small quiet">{t(`item.hint.${item}`)}</p>
          <DescribedFields />
        </form>
      }
      answer={() => (item === "container" ? <Drawn yaml={yaml} /> : <Sheet item={item} name={key} />)}
    />
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
