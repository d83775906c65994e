/* The full sheet of one substance or solute: its figures with source, grade and uncertainty, and its caution. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useEffect } from "preact/hooks";
import { get, Refused, Unreachable } from "../api/client";
import type { SubstancesFull } from "../api/types";
import { address, go } from "../store/place";
import { fixed, number, show } from "../store/quantity";
import { generation, own } from "../store/workspace";
import { t, textOf } from "../text/text";
import type { FigureNumbers } from "./figure";
import { Plot } from "./plot";

export function SubstanceSheet({ name, beside = false }: { name: string; beside?: boolean }) {
  const sheet = useSignal<SubstancesFull | null>(null);
  const problem = useSignal("");
  useEffect(() => {
    const abort = new AbortController();
    get(`substances/${encodeURIComponent(name)}`, abort.signal).then(
      ({ body }) => {
        sheet.value = (body as { substances: SubstancesFull[] }).substances[0] ?? null;
        problem.value = "";
      },
      (reason: unknown) => {
        if (reason instanceof Refused) problem.value = reason.message;
        else if (reason instanceof Unreachable) problem.value = t("server.unreachable");
        else if (!(reason instanceof DOMException)) throw reason;
      },
    );
    return () => abort.abort();
  }, [name, generation.value]);
  const s = sheet.value;
  useEffect(() => {
    if (s !== null && !beside) document.title = `${s.name} · dryfront`;
  }, [s, beside]);
  if (problem.value !== "" && s === null) return <p class="note alarm" role="alert">{problem.value}</p>;
  if (s === null) return <p class="quiet">{t("loading")}</p>;
  return <Sheet of={s} beside={beside} />;
}

function Sheet({ of: s, beside }: { of: SubstancesFull; beside: boolean }) {
  const kind = s.has_vapour ? "substances" : "solutes";
  const mine = own.value[kind].find((one) => one.keys?.includes(s.key));
  return (
    <div class="stack">
      {!beside && (
        <div class="row between">
          <div>
            <h2 class="title">{s.name}</h2>
            <p class="small quiet">{[s.aliases.join(", "), s.formula, s.cas && `CAS ${s.cas}`, s.family].filter((one) => one !== "").join(" · ")}</p>
          </div>
          <div class="row no-print">
            {mine && <a class="button" href={address([s.has_vapour ? "substance" : "solute", mine.name])}>{t("sheet.edit")}</a>}
            <button onClick={() => print()}>{t("kept.print")}</button>
            {s.has_vapour && s.key !== "water" && <button onClick={() => go(["ceilings"], { also: s.key })}>{t("dryer.ceilings")}</button>}
          </div>
        </div>
      )}
      {s.caution !== "" && <p class="caution">{s.caution}</p>}
      <div class={beside ? "stack" : "columns"}>
        <section class="sheet stack" aria-label={t("sheet.figures")}>
          <h2>{t("sheet.figures")}</h2>
          {s.involatile === null ? <Volatile of={s} /> : <Involatile of={s} involatile={s.involatile} />}
        </section>
        {s.table.length > 0 && <section class="sheet"><Pressures of={s} /></section>}
        {s.with_water !== null && <WithWater of={s.with_water} />}
      </div>
      {s.constants.length > 0 && <Constants of={s} />}
      <Correlations of={s} />
      <section class="sheet stack" aria-label={t("library.source")}>
        <h2>{t("sheet.sources")}</h2>
        <dl class="pairs">
          <dt>{t("sheet.itself")}</dt><dd>{s.source}</dd>
          <dt>{t("library.crystallises")}</dt><dd>{textOf(`choice.${s.crystallises}`, s.crystallises)}; {s.crystallises_source}</dd>
          {s.dimer_source !== null && <><dt>{t("sheet.dimer")}</dt><dd>{s.dimer_source}</dd></>}
          <dt>{t("library.grade")}</dt><dd>{s.worst_grade}</dd>
        </dl>
      </section>
    </div>
  );
}

function Fact({ name, children }: { name: string; children: ComponentChildren }) {
  return <div><dt>{name}</dt><dd>{children}</dd></div>;
}

function Volatile({ of: s }: { of: SubstancesFull }) {
  return (
    <dl class="facts">
      <Fact name={t("library.melts")}>{show(s.melting_C, "temperature")}</Fact>
      <Fact name={t("library.boils")}>{show(s.boiling_C, "temperature")}</Fact>
      <Fact name={t("library.crystallises")}>{textOf(`choice.${s.crystallises}`, s.crystallises)}</Fact>
      <Fact name={t("sheet.molar_mass")}>{number(s.molar_mass_g_mol, 5)} <small>g/mol</small></Fact>
      <Fact name={t("sheet.fusion")}>{number(s.fusion_kJ_mol)} <small>kJ/mol</small></Fact>
      {s.transitions.map((one) => <Fact key={one.temperature_C} name={t("sheet.transition")}>{show(one.temperature_C, "temperature")} <small>{number(one.enthalpy_kJ_mol)} kJ/mol</small></Fact>)}
      <Fact name={t("sheet.critical")}>{show(s.critical_C, "temperature")} <small>{s.critical_mbar === null ? "" : show(s.critical_mbar, "pressure")}</small></Fact>
      {s.glass_C !== null && <Fact name={t("sheet.glass")}>{show(s.glass_C, "temperature")}</Fact>}
      <Fact name={t("library.flash")}>{show(s.flash_point_C, "temperature")}</Fact>
      <Fact name={t("sheet.lel")}>{s.lower_explosive_limit_percent_v_v === null ? "–" : `${number(s.lower_explosive_limit_percent_v_v, 2)} % v/v`}</Fact>
      <Fact name={t("sheet.exposure")}>{s.exposure_limit_8h_ppm === null ? "–" : `${number(s.exposure_limit_8h_ppm, 3)} ppm`}</Fact>
      {s.dimer_enthalpy_kJ_mol !== null && <Fact name={t("sheet.dimer")}>{number(s.dimer_enthalpy_kJ_mol)} <small>kJ/mol</small>, {number(s.dimer_entropy_J_mol_K)} <small>J/(mol K)</small></Fact>}
    </dl>
  );
}

function Involatile({ of: s, involatile: v }: { of: SubstancesFull; involatile: NonNullable<SubstancesFull["involatile"]> }) {
  return (
    <>
      <dl class="facts">
        <Fact name={t("sheet.molar_mass")}>{number(s.molar_mass_g_mol, 5)} <small>g/mol</small></Fact>
        <Fact name={t("sheet.particles")}>{number(v.particles, 2)}</Fact>
        <Fact name={t("sheet.ends")}>{textOf(`choice.${v.ice_branch_ends}`, v.ice_branch_ends)} <small>{show(v.ice_branch_ends_C, "temperature")}</small></Fact>
        {v.ice_branch_ends_percent_w_w !== null && <Fact name={t("sheet.ends_at")}>{fixed(v.ice_branch_ends_percent_w_w, 1)} % w/w</Fact>}
        {s.glass_C !== null && <Fact name={t("sheet.dry_glass")}>{show(s.glass_C, "temperature")}</Fact>}
        {v.gordon_taylor_weight !== null && <Fact name={t("sheet.gordon_taylor")}>{number(v.gordon_taylor_weight)}</Fact>}
        <Fact name={t("library.crystallises")}>{textOf(`choice.${s.crystallises}`, s.crystallises)}</Fact>
        {v.crystal !== null && <Fact name={t("sheet.crystal")}>{v.crystal}</Fact>}
        {v.breaks_up_into !== null && <Fact name={t("sheet.breaks_up")}>{v.breaks_up_into} <small>{v.breaks_up_mbar_at_20C === null ? "" : `${show(v.breaks_up_mbar_at_20C, "pressure")}, 20 °C`}</small></Fact>}
      </dl>
      {v.note !== "" && <p class="small quiet">{v.note}</p>}
    </>
  );
}

function Pressures({ of: s }: { of: SubstancesFull }) {
  /* What rests on a continuation is broken; the first point of what does not joins both. */
  const firm = s.table.findIndex((row) => !row.extrapolated);
  const drawn = (i: number) => firm < 0 || i <= firm;
  const figure: FigureNumbers = {
    key: `vapour-pressure-${s.key}`,
    title: t("sheet.pressure"),
    x: { label: t("run.temperature"), quantity: "temperature", values: s.table.map((row) => row.temperature_C) },
    y: { label: t("sheet.pressure_axis"), quantity: "pressure", logarithmic: true },
    lines: [
      { label: t("sheet.over_crystal"), colour: 1, width: 2, values: s.table.map((row) => row.crystal_pressure_mbar) },
      { label: t("sheet.over_liquid_continued"), colour: 2, dash: [5, 4], values: s.table.map((row, i) => (drawn(i) ? row.liquid_pressure_mbar : null)) },
      ...(firm < 0 ? [] : [{ label: t("sheet.over_liquid"), colour: 2 as const, values: s.table.map((row, i) => (i >= firm ? row.liquid_pressure_mbar : null)) }]),
    ].filter((line) => line.values.some((value) => value !== null)) as FigureNumbers["lines"],
  };
  return <Plot figure={figure} height={250} />;
}

function WithWater({ of }: { of: NonNullable<SubstancesFull["with_water"]> }) {
  return (
    <section class="sheet stack" aria-label={t("library.with_water")}>
      <h2>{t("library.with_water")}</h2>
      <dl class="pairs">
        <dt>{t("sheet.trust")}</dt><dd>{textOf(`grade.${of.grade}`, of.grade)}</dd>
        {of.from_C !== null && <><dt>{t("sheet.range")}</dt><dd class="number">{show(of.from_C, "temperature")} … {show(of.to_C, "temperature")}</dd></>}
        <dt>{t("library.source")}</dt><dd>{of.source || "–"}</dd>
      </dl>
    </section>
  );
}

const words = (property: string) => property.replace(/_/g, " ");

/** A constant in the units shown: kelvin and pascal are turned, the rest stands as it is. */
function constant(value: number | null, uncertainty: number | null, unit: string): string {
  if (value === null) return "–";
  if (unit === "K" && value > 50) return `${show(value - 273.15, "temperature")}${uncertainty ? ` ± ${number(uncertainty, 2)} K` : ""}`;
  if (unit === "Pa") return show(value / 100, "pressure", 4);
  return `${Number(value.toPrecision(7)).toString().replace("-", "−")}${uncertainty ? ` ± ${number(uncertainty, 2)}` : ""}${unit === "-" ? "" : ` ${unit.replace("m3", "m³")}`}`;
}

function Constants({ of: s }: { of: SubstancesFull }) {
  return (
    <section class="sheet" aria-label={t("sheet.constants")}>
      <h2>{t("sheet.constants")}</h2>
      <table class="cards">
        <thead><tr><th>{t("sheet.property")}</th><th class="n">{t("sheet.value")}</th><th>{t("sheet.grade")}</th><th>{t("library.source")}</th></tr></thead>
        <tbody>
          {s.constants.map((one) => (
            <tr key={one.property}>
              <th scope="row">{words(one.property)}</th>
              <td class="n" data-label={t("sheet.value")}>{constant(one.value, one.uncertainty, one.unit)}</td>
              <td data-label={t("sheet.grade")}>{one.grade}</td>
              <td class="small" data-label={t("library.source")}><span>{one.source}{one.note !== "" && <span class="faint">; {one.note}</span>}</span></td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function Correlations({ of: s }: { of: SubstancesFull }) {
  return (
    <section class="sheet" aria-label={t("sheet.correlations")}>
      <h2>{t("sheet.correlations")}</h2>
      <table class="cards">
        <thead><tr><th>{t("sheet.property")}</th><th>{t("field.unit")}</th><th>{t("sheet.range")}</th><th>{t("sheet.grade")}</th><th>{t("library.source")}</th></tr></thead>
        <tbody>
          {s.correlations.map((one) => (
            <tr key={one.property}>
              <th scope="row">{words(one.property)}</th>
              <td data-label={t("field.unit")}>{one.unit.replace("m3", "m³")}</td>
              <td class="number" data-label={t("sheet.range")}>{one.from_C === null ? t("sheet.everywhere") : `${show(one.from_C, "temperature")} … ${show(one.to_C, "temperature")}`}</td>
              <td data-label={t("sheet.grade")}>{one.grade}</td>
              <td class="small" data-label={t("library.source")}>{one.source}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}
