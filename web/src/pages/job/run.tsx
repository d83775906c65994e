/* The run over time: temperatures, pressures, what is left, with one cursor over all of them. */
import { useComputed } from "@preact/signals";
import type { RunRun } from "../../api/types";
import type { FigureNumbers, Line } from "../../parts/figure";
import { Plot } from "../../parts/plot";
import { adjust, place } from "../../store/place";
import { duration } from "../../store/quantity";
import { t, textOf } from "../../text/text";
import type { JobGiven } from "../job";

type Colour = Line["colour"];
const dashes: (number[] | undefined)[] = [undefined, [6, 4], [2, 3], [9, 3, 2, 3]];
const name = (key: string) => textOf(`gas.${key}`, key.replace(/_/g, " "));

/* A limit that holds at each time; classes with the same one share its line. */
interface Limit {
  of: string;
  values: (number | null)[];
}

function limitsOf(run: RunRun, series: RunRun["series"]): Limit[] {
  const found: Limit[] = [];
  run.classes.slice(0, 4).forEach((c, i) => {
    const values = series.map((m) => m.classes[i]?.limit_C ?? null);
    if (values.every((v) => v === null)) return;
    const same = found.find((one) => one.values.every((v, k) => v === null || values[k] === null || v === values[k]));
    if (same === undefined) found.push({ of: c.name, values });
    else same.values = same.values.map((v, k) => v ?? values[k]!);
  });
  return found;
}

/* Between the hottest point and its limit, for the class that comes nearest to it: under the limit, and past it. */
function marginBands(run: RunRun, series: RunRun["series"]): NonNullable<FigureNumbers["bands"]> {
  const nearest = run.classes.slice(0, 4).reduce((best, c, i) => ((c.least_margin_K ?? Infinity) < (run.classes[best]?.least_margin_K ?? Infinity) ? i : best), 0);
  const edges = (past: boolean) =>
    series.map((m): [number | null, number | null] => {
      const { hottest_C: hottest, limit_C: limit } = m.classes[nearest] ?? { hottest_C: null, limit_C: null };
      return hottest === null || limit === null || hottest > limit !== past ? [null, null] : [hottest, limit];
    });
  return ([[false, t("run.under"), 3], [true, t("run.past"), 2]] as const)
    .map(([past, label, colour]) => ({ label, colour, from: edges(past).map(([hottest]) => hottest), to: edges(past).map(([, limit]) => limit) }))
    .filter((band) => band.from.some((v) => v !== null));
}

/** The figures of a run, from its series; `margin`, K, is that asked for under the limit. */
export function runFigures(run: RunRun, margin: number): FigureNumbers[] {
  const series = run.series.filter((moment) => moment.time_h >= 0);
  const x = { label: t("run.time"), quantity: "time" as const, values: series.map((moment) => moment.time_h) };
  const marks = run.classes.flatMap((c) => [
    ...(c.solvent_gone_h === null ? [] : [{ at: c.solvent_gone_h, label: t("run.solvent_gone", { class: c.name }) }]),
    ...(c.dry_h === null ? [] : [{ at: c.dry_h, label: t("run.dry", { class: c.name }) }]),
  ]);
  const many = run.classes.length > 1;
  const of = (c: RunRun["classes"][number]) => (many ? `, ${c.name}` : "");
  const temperatures: Line[] = [
    { label: t("run.shelf"), colour: 7, dash: [6, 4], values: series.map((m) => m.shelf_C) },
    { label: t("run.trap"), colour: 3, values: series.map((m) => m.trap_surface_C[0] ?? null) },
    ...run.classes.slice(0, 4).map((c, i): Line => ({ label: t("run.hottest") + of(c), colour: 2, ...(dashes[i] ? { dash: dashes[i]! } : {}), values: series.map((m) => m.classes[i]?.hottest_C ?? null) })),
    ...run.classes.slice(0, 4).map((c, i): Line => ({ label: t("run.front") + of(c), colour: 1, ...(dashes[i] ? { dash: dashes[i]! } : {}), values: series.map((m) => m.classes[i]?.front_C ?? null) })),
  ];
  const limits = limitsOf(run, series);
  limits.forEach((one) => temperatures.push({ label: t("run.limit") + (limits.length > 1 ? `, ${one.of}` : ""), colour: 4, dash: [2, 3], steps: true, values: one.values }));
  const asked = limits.map((one) => ({ label: t("run.margin"), ...(limits.length > 1 ? { of: `, ${one.of}` } : {}), colour: 4 as const, from: one.values.map((v) => (v === null ? null : v - margin)), to: one.values }));
  const bands = [...marginBands(run, series), ...asked];
  /* The glass of a cake that has hardly begun lies far above all else and would only flatten the figure. */
  const warmest = Math.max(...series.map((m) => m.shelf_C), ...series.flatMap((m) => m.classes.map((c) => c.hottest_C ?? -300)));
  const glass = series.map((m) => m.classes[0]?.glass_C ?? null).map((g) => (g !== null && g < warmest + 15 ? g : null));
  if (glass.some((g) => g !== null)) temperatures.push({ label: t("run.glass"), colour: 5, dash: [3, 3], values: glass });
  const gases = Object.keys(series[0]?.chamber_mbar ?? {});
  const pressures: Line[] = gases.map((gas, i) => ({ label: name(gas), colour: ((i % 7) + 1) as Colour, values: series.map((m) => positive(m.chamber_mbar[gas])) }));
  pressures.push({ label: t("run.total"), colour: 7, width: 2.2, values: series.map((m) => positive(Object.values(m.chamber_mbar).reduce<number>((sum, p) => sum + (p ?? 0), 0))) });
  if (series.some((m) => m.set_point_mbar !== null)) pressures.push({ label: t("run.set_point"), colour: 7, dash: [6, 4], steps: true, values: series.map((m) => m.set_point_mbar) });
  const species = Object.keys(series[0]?.classes[0]?.left_percent ?? {});
  const left: Line[] = species.flatMap((key, k) =>
    run.classes.slice(0, 4).map((c, i): Line => ({ label: name(key) + of(c), colour: ((k % 7) + 1) as Colour, ...(dashes[i] ? { dash: dashes[i]! } : {}), values: series.map((m) => m.classes[i]?.left_percent[key] ?? null) })),
  );
  return [
    { key: "temperatures", title: t("run.temperatures"), x, marks, y: { label: t("run.temperature"), quantity: "temperature" }, lines: temperatures, bands },
    { key: "pressures", title: t("run.pressures"), x, marks, y: { label: t("run.pressure"), quantity: "pressure", logarithmic: true }, lines: pressures },
    { key: "left", title: t("run.left"), x, marks, y: { label: t("run.left_axis"), quantity: "none", unit: "%", from: 0, to: 102 }, lines: left },
  ];
}

const positive = (p: number | null | undefined) => (p === null || p === undefined || p < 1e-6 ? null : p);

export function RunPage({ judge }: JobGiven) {
  const run = judge.answer.value?.run ?? null;
  const figures = useComputed(() => {
    const answer = judge.answer.value;
    if (answer?.run === undefined || answer.run === null) return [];
    return runFigures(answer.run, answer.margin_asked_K);
  });
  if (run === null) return <p class="quiet">{judge.fault.value === null ? t("run.none") : ""}</p>;
  const { from, to } = place.value.query;
  const range: [number, number] | null = from !== undefined && to !== undefined ? [Number(from), Number(to)] : null;
  const onRange = (next: [number, number] | null) =>
    adjust(next === null ? { from: "", to: "" } : { from: next[0].toPrecision(5), to: next[1].toPrecision(5) });
  return (
    <div class={judge.stale.value ? "stack stale" : "stack"}>
      <p class="small quiet">
        {run.classes.map((c) => (c.dry_h === null ? t("run.class_not", { class: c.name }) : t("run.class_dry", { class: c.name, time: duration(c.dry_h) }))).join("; ")}
        {". "}
        {range === null ? t("run.drag") : <button class="plain" onClick={() => onRange(null)}>{t("figure.whole")}</button>}
      </p>
      {figures.value.map((figure) => (
        <section class="sheet" key={figure.key} aria-label={figure.title}>
          <Plot figure={figure} joined="run" range={range} onRange={onRange} height={figure.key === "temperatures" ? 260 : 200} />
        </section>
      ))}
    </div>
  );
}
