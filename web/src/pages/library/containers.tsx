/* Containers, drawn to scale: one scale for each kind. */
import { ContainerDrawing, outlineOf } from "../../parts/container_drawing";
import { address } from "../../store/place";
import { type Container, containers, own } from "../../store/workspace";
import { t } from "../../text/text";
import { asked, Tools } from "./parts";

const kinds = ["vial", "flask", "tube", "tray"] as const;

export function ContainersList() {
  const query = asked();
  const found = containers.value.filter((one) => [one.key.replace(/_/g, " "), one.name, one.kind].some((text) => text.toLowerCase().includes(query)));
  return (
    <>
      <Tools kind="containers" found={found.length} />
      {kinds.map((kind) => {
        const of = found.filter((one) => one.kind === kind);
        if (of.length === 0) return null;
        const tallest = Math.max(...of.map((one) => outlineOf(one).height), ...of.map((one) => outlineOf(one).width * (kind === "tray" ? 0.5 : 0.7)));
        return (
          <section class="sheet" key={kind} aria-label={t(`container.kind.${kind}`)}>
            <h2>{t(`container.kind.${kind}`)}</h2>
            <div class="gallery">
              {of.map((one) => <Card key={one.key} of={one} scale={120 / tallest} />)}
            </div>
          </section>
        );
      })}
      {found.length === 0 && <p class="quiet">{t("library.nothing")}</p>}
      <p class="small faint">{t("library.containers.hint")}</p>
    </>
  );
}

function Card({ of, scale }: { of: Container; scale: number }) {
  const mine = own.value.containers.find((one) => one.keys?.includes(of.key));
  return (
    <div class="container-card">
      <ContainerDrawing of={of} scale={scale} />
      <div class="stack" style={{ gap: "2px" }}>
        <strong>{mine ? <a href={address(["container", mine.name])}>{of.key.replace(/_/g, " ")}</a> : of.key.replace(/_/g, " ")}</strong>
        <span class="small quiet">{of.name} {of.own === true && <span class="tag">{t("dryers.own")}</span>}</span>
        <dl class="pairs small">
          <dt>{t("container.brim")}</dt><dd>{number(of.brim_volume_mL)} mL</dd>
          <dt>{t("container.inner")}</dt><dd>{number(of.inner_diameter_mm)} mm</dd>
          {of.outer_diameter_mm != null && <><dt>{t("container.outer")}</dt><dd>{number(of.outer_diameter_mm)} mm</dd></>}
          {of.port_diameter_mm != null && <><dt>{t("container.port")}</dt><dd>{number(of.port_diameter_mm)} mm</dd></>}
        </dl>
        {of.source !== undefined && <span class="small faint">{of.source}</span>}
      </div>
    </div>
  );
}

const number = (value: number) => Number(value.toPrecision(4)).toString();
