/* How likely the job leaves rigid, over everything that is not sure of it; which of that matters; where it comes from. */
import { useId } from "preact/hooks";
import type { ComponentChildren } from "preact";
import type { Risk, RiskEstimate } from "../../api/types";
import { Asking, outOfDate } from "../../parts/asking";
import { Labelled, QuantityInput } from "../../parts/fields";
import { csvText, download, type FigureNumbers, ticks } from "../../parts/figure";
import { fillOf, Patterns } from "../../parts/patterns";
import { Plot } from "../../parts/plot";
import { StandingBadge } from "../../parts/standing";
import { Axis, scale, type Scale, WideDrawing } from "../../parts/wide_drawing";
import { workOf } from "../../store/asked";
import { adjust, place } from "../../store/place";
import { convert, duration, fixed, number, type Quantity, show, unitOf } from "../../store/quantity";
import { t, textOf } from "../../text/text";
import type { JobGiven } from "../job";
import "../../style/advice.css";

const numbers = [
  ["runs", "2048"],
  ["indices", "256"],
  ["seed", "1"],
] as const;

export function RiskPage({ kept, judge }: JobGiven) {
  const work = workOf<Risk>("risk", kept.name);
  const { query } = place.value;
  const asked = Object.fromEntries([...numbers.map(([key]) => key), "accept" as const].map((key) => [key, query[key] ?? ""]).filter(([, value]) => value !== ""));
  const request = { job: kept.text.value, ...asked };
  const risk = work.answer.value;
  const accept = useId();
  return (
    <div class="stack">
      <Asking title={t("job.risk")} work={work} path="risk" request={request} ask={t("risk.ask")} hint={t("risk.hint")} barred={judge.fault.value !== null}>
        <div class="fields">
          {numbers.map(([key, otherwise]) => <Count key={key} field={key} otherwise={otherwise} />)}
          <Labelled id={accept} label={t("risk.accept")} wrong={null} hint={t("risk.accept.hint")}>
            <QuantityInput id={accept} value={query.accept ?? ""} unit="share" describedBy={`${accept}-said`} onValue={(value) => adjust({ accept: value })} />
          </Labelled>
        </div>
      </Asking>
      {risk !== null && (
        <div class={outOfDate(work, request) || work.progress.value !== null ? "stack stale" : "stack"}>
          <Chances risk={risk} />
          <Percentiles risk={risk} />
          {risk.influences.length > 0 && <Influences risk={risk} />}
          {risk.shelf_for_risk !== null && <ShelfForRisk risk={risk} />}
          <Inputs risk={risk} />
        </div>
      )}
    </div>
  );
}

function Count({ field, otherwise }: { field: (typeof numbers)[number][0]; otherwise: string }) {
  const id = useId();
  return (
    <Labelled id={id} label={t(`risk.${field}`)} wrong={null} hint={t(`risk.${field}.hint`)}>
      <input id={id} type="text" inputMode="numeric" autocomplete="off" aria-describedby={`${id}-said`} placeholder={otherwise} value={place.value.query[field] ?? ""} onInput={(event) => adjust({ [field]: event.currentTarget.value.replace(/\D/g, "") })} />
    </Labelled>
  );
}

const percent = (e: RiskEstimate) => (e.value === null ? "–" : `${fixed(100 * e.value, 1)}${e.standard_error === null ? "" : ` ± ${fixed(100 * e.standard_error, 1)}`} %`);

/* value ± its standard error, in the unit shown. */
function estimate(e: RiskEstimate, quantity: Quantity): string {
  if (e.value === null) return "–";
  const wide = quantity === "temperature" ? "temperature difference" : quantity;
  const value = convert(e.value, quantity);
  const whole = Math.abs(value) >= 1000;
  const error = e.standard_error === null ? "" : ` ± ${fixed(convert(e.standard_error, wide), whole ? 0 : 2)}`;
  return `${fixed(value, whole ? 0 : 1)}${error} ${unitOf(quantity)}`;
}

/* A thin line with ends, one standard error to either side. */
function Whisker({ x, at, e, times = 1 }: { x: Scale; at: number; e: RiskEstimate; times?: number }) {
  if (e.value === null || e.standard_error === null || e.standard_error <= 0) return null;
  const [a, b] = [x(times * (e.value - e.standard_error)), x(times * (e.value + e.standard_error))];
  return <path d={`M${a} ${at}H${b}M${a} ${at - 4}v8M${b} ${at - 4}v8`} stroke="var(--ink)" stroke-width="1.3" fill="none" />;
}

function Chances({ risk }: { risk: Risk }) {
  const id = useId();
  const rows = risk.standings;
  const left = 78;
  return (
    <section class="sheet stack" aria-label={t("risk.chances")}>
      <div class="row between">
        <p class="risk-head">
          {risk.leaves_rigid_below === null ? t("risk.leaves", { chance: percent(risk.leaves_rigid), runs: risk.runs }) : t("risk.none_left", { runs: risk.runs, below: number(100 * risk.leaves_rigid_below, 2) })}
        </p>
        <span class="row small">{t("risk.as_stated")} <StandingBadge standing={risk.as_stated} /></span>
      </div>
      <WideDrawing
        name="risk-chances"
        title={t("risk.chances")}
        height={() => rows.length * 32 + 42}
        told={rows.map((row) => `${t(`standing.${row.standing}`)}: ${percent(row.chance)}`).join("; ")}
        csv={() => csvText([["standing", "chance", "standard_error", "mostly_by"], ...rows.map((row) => [row.standing, row.chance.value, row.chance.standard_error, row.mostly_by])])}
        table={() => (
          <Rows label={t("risk.chances")} head={[t("job.standing"), t("risk.chance"), t("risk.mostly")]}>
            {rows.map((row) => <tr key={row.standing}><th>{t(`standing.${row.standing}`)}</th><td class="n">{percent(row.chance)}</td><td class="n">{by(row.mostly_by)}</td></tr>)}
          </Rows>
        )}
      >
        {(width) => {
          const room = width < 520 ? 104 : 190;
          const x = scale(0, 100, left, width - room);
          return (
            <>
              <Patterns id={id} names={["rigid", "wetted", "afloat", "unheld"]} />
              <Axis side="bottom" at={[0, 25, 50, 75, 100]} scale={x} from={4} to={rows.length * 32 + 4} edge={rows.length * 32 + 4} title={t("risk.percent")} />
              {rows.map((row, i) => {
                const y = i * 32 + 8;
                const share = 100 * (row.chance.value ?? 0);
                return (
                  <g key={row.standing}>
                    <text x={left - 8} y={y + 16} text-anchor="end" fill="var(--ink)" font-weight="600">{t(`standing.${row.standing}`)}</text>
                    <rect x={left} y={y} width={Math.max(x(share) - left, 0)} height="22" fill={fillOf(id, row.standing)} stroke={`var(--${row.standing})`} />
                    <path d={`M${left} ${y}v22`} stroke="var(--ink-2)" />
                    <Whisker x={x} at={y + 11} e={row.chance} times={100} />
                    <text x={width - room + 10} y={y + 10} fill="var(--ink)">{percent(row.chance)}</text>
                    {row.standing !== "rigid" && row.mostly_by !== null && <text x={width - room + 10} y={y + 23} fill="var(--ink-2)" font-size="11">{width < 520 ? by(row.mostly_by) : t("risk.mostly_by", { cause: by(row.mostly_by) })}</text>}
                  </g>
                );
              })}
            </>
          );
        }}
      </WideDrawing>
      <p class="small faint">{t("risk.whiskers")}</p>
    </section>
  );
}

const by = (cause: string | null) => (cause === null || cause === "none" ? "" : textOf(`cause.${cause}`, cause.replace(/_/g, " ")));

function Rows({ label, head, children }: { label: string; head: string[]; children: ComponentChildren }) {
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={t("risk.table", { what: label })}>
      <table>
        <thead><tr>{head.map((text, i) => <th key={text} class={i === 0 ? "" : "n"}>{text}</th>)}</tr></thead>
        <tbody>{children}</tbody>
      </table>
    </div>
  );
}

/** A median and an outer percentile of one quantity. */
interface Spread {
  key: string;
  label: string;
  quantity: Quantity;
  median: RiskEstimate;
  outer: RiskEstimate;
  outerLabel: string;
}

function spreadsOf(risk: Risk): Spread[] {
  const p95 = t("risk.p95");
  const all: Spread[] = [
    { key: "margin", label: t("key.margin"), quantity: "temperature difference", median: risk.margin_median_K, outer: risk.margin_p5_K, outerLabel: t("risk.p5") },
    { key: "hottest", label: t("run.hottest"), quantity: "temperature", median: risk.hottest_median_C, outer: risk.hottest_p95_C, outerLabel: p95 },
    { key: "primary", label: t("key.drying"), quantity: "time", median: risk.primary_median_h, outer: risk.primary_p95_h, outerLabel: p95 },
    { key: "end", label: t("risk.end"), quantity: "time", median: risk.end_median_h, outer: risk.end_p95_h, outerLabel: p95 },
  ];
  /* Without secondary drying the run ends with primary drying. */
  const same = risk.end_median_h.value === risk.primary_median_h.value && risk.end_p95_h.value === risk.primary_p95_h.value;
  return all.filter((one) => one.median.value !== null && !(one.key === "end" && same));
}

function percentilesCsv(spreads: Spread[], more: (string | number | null)[][] = []): string {
  return csvText([
    ["quantity", "median", "median_standard_error", "outer_percentile", "outer", "outer_standard_error", "unit"],
    ...spreads.map((one) => [one.key, one.median.value, one.median.standard_error, one.key === "margin" ? 5 : 95, one.outer.value, one.outer.standard_error, one.quantity === "time" ? "h" : one.quantity === "temperature" ? "°C" : "K"]),
    ...more,
  ]);
}

function Percentiles({ risk }: { risk: Risk }) {
  const spreads = spreadsOf(risk);
  const residues = risk.residuals.filter((one) => one.median_percent.value !== null);
  const csv = () =>
    percentilesCsv(spreads, [
      ...residues.map((one) => [`left of ${one.substance}`, one.median_percent.value, one.median_percent.standard_error, 95, one.p95_percent.value, one.p95_percent.standard_error, "% of the solids"]),
    ]);
  const margin = spreads.find((one) => one.key === "margin");
  const times = spreads.filter((one) => one.quantity === "time");
  return (
    <section class="sheet stack" aria-label={t("risk.percentiles")}>
      <div class="row between">
        <h2>{t("risk.percentiles")}</h2>
        <button class="plain no-print" onClick={() => download("dryfront-risk-percentiles.csv", csv(), "text/csv")}>{t("figure.csv")}</button>
      </div>
      <div class="columns">
        {margin !== undefined && <SpreadDrawing name="risk-margin" title={t("key.margin")} rows={[margin]} marks={[{ at: risk.margin_asked_K, label: t("risk.asked") }, { at: 0, label: t("run.limit") }]} />}
        {times.length > 0 && <SpreadDrawing name="risk-time" title={t("units.time")} rows={times} marks={[]} />}
      </div>
      <Rows label={t("risk.percentiles")} head={[t("risk.quantity"), t("risk.median"), t("risk.outer"), t("risk.against")]}>
        {spreads.map((one) => (
          <tr key={one.key}>
            <th scope="row">{one.label}</th>
            <td class="n">{estimate(one.median, one.quantity)}</td>
            <td class="n">{estimate(one.outer, one.quantity)} <small class="faint">{one.outerLabel}</small></td>
            <td class="n">{one.key === "margin" ? t("risk.asked_for", { margin: show(risk.margin_asked_K, "temperature difference") }) : ""}</td>
          </tr>
        ))}
        {residues.map((one) => (
          <tr key={one.substance}>
            <th scope="row">{t("risk.left", { substance: one.substance })}</th>
            <td class="n">{left(one.median_percent)}</td>
            <td class="n">{left(one.p95_percent)} <small class="faint">{t("risk.p95")}</small></td>
            <td class="n">{one.target_percent === null ? "" : t("risk.above", { chance: percent(one.chance_above_target), target: number(one.target_percent, 2) })}</td>
          </tr>
        ))}
      </Rows>
      <p class="small faint">
        {t("risk.reads")}
        {risk.dry.value !== null && risk.dry.value < 1 && ` ${t("risk.dry_only", { chance: percent(risk.dry) })}`}
      </p>
    </section>
  );
}

const left = (e: RiskEstimate) => (e.value === null ? "–" : `${number(e.value)} ± ${(e.standard_error ?? 0) < 1e-6 * Math.abs(e.value) ? "0" : number(e.standard_error, 1)} %`);

/* From the median to the outer percentile, each with its error. */
function SpreadDrawing({ name, title, rows, marks }: { name: string; title: string; rows: Spread[]; marks: { at: number; label: string }[] }) {
  const quantity = rows[0]!.quantity;
  const of = (e: RiskEstimate) => ({ value: e.value === null ? null : convert(e.value, quantity), standard_error: e.standard_error === null ? null : convert(e.standard_error, quantity) });
  const all = rows.flatMap((row) => [row.median, row.outer]).flatMap((e) => (e.value === null ? [] : [convert(e.value - (e.standard_error ?? 0), quantity), convert(e.value + (e.standard_error ?? 0), quantity)])).concat(marks.map((mark) => convert(mark.at, quantity)));
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const room = (high - low) * 0.08 || 1;
  const from = quantity === "time" ? 0 : low - room;
  return (
    <WideDrawing
      name={name}
      title={title}
      height={() => rows.length * 60 + 72}
      told={rows.map((row) => `${row.label}: ${t("risk.median")} ${estimate(row.median, quantity)}, ${row.outerLabel} ${estimate(row.outer, quantity)}`).join("; ")}
      csv={() => percentilesCsv(rows)}
    >
      {(width) => {
        const x = scale(from, high + room, 14, width - 14);
        const bottom = rows.length * 60 + 32;
        return (
          <>
            <Axis side="bottom" at={ticks(from, high + room, 6)} scale={x} from={28} to={bottom} edge={bottom} title={`${title}, ${unitOf(quantity)}`} />
            {marks.map((mark, k) => (
              <g key={mark.label}>
                <path d={`M${x(convert(mark.at, quantity))} ${14 + 12 * k}V${bottom}`} stroke="var(--line-4)" stroke-dasharray={k === 0 ? "5 3" : "2 3"} stroke-width="1.5" />
                <text x={x(convert(mark.at, quantity))} y={11 + 12 * k} text-anchor={x(convert(mark.at, quantity)) > width - 90 ? "end" : "start"} font-size="11" fill="var(--line-4)">{mark.label}</text>
              </g>
            ))}
            {rows.map((row, i) => {
              const y = i * 60 + 50;
              const [a, b] = [of(row.median), of(row.outer)];
              if (a.value === null || b.value === null) return null;
              const upper = x(b.value) > x(a.value);
              const near = Math.abs(x(b.value) - x(a.value)) < 110;
              return (
                <g key={row.key}>
                  {rows.length > 1 && <text x={x(a.value)} y={y - 12} font-size="11" text-anchor="middle" fill="var(--ink-2)">{row.label}</text>}
                  <path d={`M${x(a.value)} ${y}H${x(b.value)}`} stroke="var(--line-1)" stroke-width="7" opacity="0.28" />
                  <circle cx={x(a.value)} cy={y} r="4.5" fill="var(--line-1)" />
                  <path d={`M${x(b.value)} ${y - 8}v16`} stroke="var(--line-1)" stroke-width="2.4" />
                  <Whisker x={x} at={y} e={a} />
                  <Whisker x={x} at={y} e={b} />
                  <text x={x(a.value)} y={y + 20} font-size="11" text-anchor={upper ? "end" : "start"} fill="var(--ink-2)">{t("risk.median")}</text>
                  <text x={x(b.value)} y={near ? y + 32 : y + 20} font-size="11" text-anchor={upper ? "end" : "start"} fill="var(--ink-2)">{row.outerLabel}</text>
                </g>
              );
            })}
          </>
        );
      }}
    </WideDrawing>
  );
}

const outputs = ["margin", "time", "rigid"] as const;

function Influences({ risk }: { risk: Risk }) {
  const id = useId();
  const wished = place.value.query.of ?? "margin";
  const of = outputs.find((one) => one === wished) ?? "margin";
  const whats = (group: string) => risk.inputs.filter((input) => input.group === group && input.applies).map((input) => input.what).join(", ");
  const rows = risk.influences
    .map((one) => ({ group: one.group, first: one[`${of}_first`], total: one[`${of}_total`] }))
    .sort((a, b) => (b.total.value ?? 0) - (a.total.value ?? 0));
  const had = rows.some((row) => row.total.value !== null);
  const most = Math.max(1, ...rows.map((row) => (row.total.value ?? 0) + (row.total.standard_error ?? 0)));
  const index = (e: RiskEstimate) => (e.value === null ? "–" : `${fixed(Math.max(e.value, 0), 2)} ± ${fixed(e.standard_error, 2)}`);
  const each = 36;
  return (
    <section class="sheet stack" aria-label={t("risk.influences")}>
      <div class="segments no-print" role="group" aria-label={t("risk.of")} style={{ justifySelf: "start" }}>
        {outputs.map((one) => <button key={one} aria-pressed={of === one} onClick={() => adjust({ of: one === "margin" ? "" : one })}>{t(`risk.of.${one}`)}</button>)}
      </div>
      {!had ? (
        <p class="quiet">{t("risk.no_index")}</p>
      ) : (
        <WideDrawing
          name={`risk-influences-${of}`}
          title={t("risk.influences")}
          height={() => rows.length * each + 44}
          told={rows.map((row) => `${row.group}: ${t("risk.first")} ${index(row.first)}, ${t("risk.total")} ${index(row.total)}`).join("; ")}
          csv={() =>
            csvText([
              ["group", ...outputs.flatMap((one) => [`${one}_first`, `${one}_first_standard_error`, `${one}_total`, `${one}_total_standard_error`])],
              ...risk.influences.map((one) => [one.group, ...outputs.flatMap((out) => [one[`${out}_first`].value, one[`${out}_first`].standard_error, one[`${out}_total`].value, one[`${out}_total`].standard_error])]),
            ])
          }
          table={() => (
            <Rows label={t("risk.influences")} head={[t("risk.input"), t("risk.first"), t("risk.total")]}>
              {rows.map((row) => <tr key={row.group}><th scope="row">{row.group} <small class="faint">{whats(row.group)}</small></th><td class="n">{index(row.first)}</td><td class="n">{index(row.total)}</td></tr>)}
            </Rows>
          )}
          below={
            <figcaption class="legend">
              <span><svg viewBox="0 0 22 8" aria-hidden="true"><rect width="22" height="8" fill="var(--line-1)" /></svg>{t("risk.first")}</span>
              <span><svg viewBox="0 0 22 8" aria-hidden="true"><rect x="0.5" y="0.5" width="21" height="7" fill={fillOf(id, "rising")} stroke="var(--ink-3)" /></svg>{t("risk.total")}</span>
              <span>{t("risk.index_errors", { runs: risk.index_runs })}</span>
            </figcaption>
          }
        >
          {(width) => {
            const [start, room] = width < 520 ? [132, 8] : [172, 96];
            const x = scale(0, most, start, width - room);
            const clipped: Scale = Object.assign((v: number) => Math.min(Math.max(x(v), start), width - room), { back: x.back });
            const bottom = rows.length * each + 4;
            return (
              <>
                <Patterns id={id} names={["rising"]} />
                <Axis side="bottom" at={ticks(0, most, width < 520 ? 4 : 8)} scale={x} from={4} to={bottom} edge={bottom} title={t("risk.share")} />
                {rows.map((row, i) => {
                  const y = i * each + 7;
                  return (
                    <g key={row.group}>
                      <title>{whats(row.group)}</title>
                      <text x={start - 8} y={y + 16} text-anchor="end" fill="var(--ink)">{row.group}</text>
                      <rect x={start} y={y} width={clipped(row.first.value ?? 0) - start} height="11" fill="var(--line-1)" />
                      <rect x={start} y={y + 13} width={clipped(row.total.value ?? 0) - start} height="10" fill={fillOf(id, "rising")} stroke="var(--ink-3)" />
                      <Whisker x={clipped} at={y + 5.5} e={row.first} />
                      <Whisker x={clipped} at={y + 18} e={row.total} />
                      {width >= 520 && <text x={width - 4} y={y + 16} text-anchor="end" fill="var(--ink-2)" font-size="11.5">{index(row.total)}</text>}
                    </g>
                  );
                })}
                <path d={`M${start} 4V${bottom}`} stroke="var(--ink-2)" />
              </>
            );
          }}
        </WideDrawing>
      )}
      <p class="small faint">{t("risk.indices.reads")}{of === "rigid" && ` ${t("risk.rigid.reads")}`}</p>
    </section>
  );
}

function ShelfForRisk({ risk }: { risk: Risk }) {
  const shelf = risk.shelf_for_risk!;
  const accepted = number(100 * shelf.accepted_chance, 2);
  const shift = shelf.shelf_shift_K.value;
  const values = (f: (e: RiskEstimate) => number | null) => shelf.curve.map((point) => f(point.chance));
  const figure: FigureNumbers = {
    key: "risk-shelf",
    title: t("risk.shelf.figure"),
    x: { label: t("risk.shelf.by"), quantity: "temperature difference", values: shelf.curve.map((point) => point.shelf_shift_K) },
    y: { label: t("risk.leaves.axis"), quantity: "none", unit: "%", from: 0, to: 102 },
    lines: [
      { label: t("risk.chance"), colour: 1, values: values((e) => (e.value === null ? null : 100 * e.value)) },
      { label: t("risk.accepted"), colour: 4, dash: [5, 3], values: values(() => 100 * shelf.accepted_chance) },
    ],
    bands: [{ label: t("risk.error"), colour: 1, from: values((e) => (e.value === null || e.standard_error === null ? null : 100 * (e.value - e.standard_error))), to: values((e) => (e.value === null || e.standard_error === null ? null : 100 * (e.value + e.standard_error))) }],
    marks: shift === null ? [] : [{ at: shift, label: t("risk.shelf") }],
  };
  const end = shift !== null && shift >= shelf.looked_to_K;
  return (
    <section class="sheet stack" aria-label={t("risk.shelf")}>
      <h2>{t("risk.shelf")}</h2>
      {shelf.found && shift !== null ? (
        <p>
          {t(shift < 0 ? "risk.shelf.colder" : "risk.shelf.warmer", { risk: accepted, shift: show(Math.abs(shift), "temperature difference"), error: fixed(shelf.shelf_shift_K.standard_error, 1) })}
          {end && ` ${t("risk.shelf.end")}`} {t("risk.shelf.then", { chance: percent(shelf.chance), median: duration(shelf.primary_median_h.value), high: duration(shelf.primary_p95_h.value) })}
        </p>
      ) : (
        <p>{t("risk.shelf.none", { risk: accepted, from: show(Math.abs(shelf.looked_from_K), "temperature difference"), chance: shelf.curve[0] === undefined ? "–" : percent(shelf.curve[0].chance) })}</p>
      )}
      {shelf.curve.length > 1 && <Plot figure={figure} height={220} />}
      <p class="small faint">{t("risk.shelf.reads")}</p>
    </section>
  );
}

function spreadWords(input: Risk["inputs"][number]): string {
  const size = input.measure === "factor" ? `${number(100 * input.spread)} %` : input.measure === "K" ? show(input.spread, "temperature difference") : `${number(input.spread, 2)} σ`;
  return input.distribution === "uniform" ? t("risk.within", { spread: size }) : size;
}

function Inputs({ risk }: { risk: Risk }) {
  const applied = risk.inputs.filter((input) => input.applies);
  const csv = () =>
    csvText([["key", "what", "group", "applies", "measure", "distribution", "spread", "correlated_with", "correlation", "grade", "source"], ...risk.inputs.map((one) => [one.key, one.what, one.group, one.applies ? "yes" : "no", one.measure, one.distribution, one.spread, one.correlated_with, one.correlation, one.grade, one.source])]);
  return (
    <section class="sheet stack" aria-label={t("risk.inputs")}>
      <div class="row between">
        <h2>{t("risk.inputs")}</h2>
        <button class="plain no-print" onClick={() => download("dryfront-risk-inputs.csv", csv(), "text/csv")}>{t("figure.csv")}</button>
      </div>
      <div class="scroll" tabIndex={0} role="region" aria-label={t("risk.table", { what: t("risk.inputs") })}>
        <table class="cards">
          <thead>
            <tr>
              <th>{t("risk.input")}</th>
              <th class="n">{t("risk.spread")}</th>
              <th>{t("risk.distribution")}</th>
              <th>{t("risk.correlated")}</th>
              <th>{t("risk.grade")}</th>
              <th>{t("risk.source")}</th>
            </tr>
          </thead>
          <tbody>
            {applied.map((one) => (
              <tr key={one.key}>
                <th scope="row" class="wrap">{one.what}</th>
                <td class="n" data-label={t("risk.spread")}>{spreadWords(one)}</td>
                <td data-label={t("risk.distribution")}>{one.distribution}</td>
                <td data-label={t("risk.correlated")}>{one.correlated_with === null ? "–" : `${(risk.inputs.find((other) => other.key === one.correlated_with)?.what ?? one.correlated_with)}, ${number(one.correlation, 2)}`}</td>
                <td data-label={t("risk.grade")}>{one.grade}</td>
                <td class="wrap small quiet" data-label={t("risk.source")}>{one.source}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <p class="small quiet">{t("risk.own_spreads")}</p>
      <p class="small faint">
        {t("risk.record", { seed: risk.seed, runs: risk.runs, all: risk.runs_in_all, failed: risk.runs_failed })}
        {risk.solidus_sigma_K !== null && ` ${t("risk.solidus", { sigma: fixed(risk.solidus_sigma_K, 2) })}`}
      </p>
    </section>
  );
}
