/* What freezing makes of the sample, from the first ice to the last liquid. */
import { useEffect } from "preact/hooks";
import { useSignal } from "@preact/signals";
import type { Phases } from "../../api/types";
import { ask, Refused, Unreachable } from "../../api/client";
import type { FigureNumbers, Line } from "../../parts/figure";
import { Plot } from "../../parts/plot";
import { duration, number, show } from "../../store/quantity";
import { parseComposition } from "../../store/composition";
import { adjust, place } from "../../store/place";
import { Yaml } from "../../store/yaml";
import { t } from "../../text/text";
import type { JobGiven } from "../job";
import { ServerFigure } from "../../parts/server_figure";

/* Every 4 K from room temperature to where little changes any more. */
const temperatures = Array.from({ length: 31 }, (_, i) => 20 - 4 * i);
const mostChanges = 6;
const beside = [0.005, -0.005, -0.3, -1]; // K

/* The path with both sides of each change of phases, and closer below it: a line through even steps would only slant. */
async function pathOf(about: object, abort: AbortSignal): Promise<Phases> {
  const at = (all: number[]) => ask<Phases>("phases", { ...about, temperature: all.map((one) => `${one.toFixed(3)} °C`) }, abort);
  const first = await at(temperatures);
  const changes = first.changes.map((one) => one.temperature_C).filter((one) => one > -100 && one < 20).slice(0, mostChanges);
  return changes.length === 0 ? first : at([...temperatures, ...changes.flatMap((one) => beside.map((by) => one + by))]);
}

export function FreezingPage({ kept, judge }: JobGiven) {
  const phases = useSignal<Phases | null>(null);
  const yaml = new Yaml(kept.text.value);
  const mixture = yaml.at(["sample", "composition"]);
  const freezing = yaml.at(["model", "solids"]);
  const crystallises = yaml.list(["sample", "crystallises"]);
  const stays = yaml.list(["sample", "stays_liquid"]);
  const about = {
    mixture,
    ...(freezing === "" ? {} : { freezing }),
    ...(crystallises.length === 0 ? {} : { crystallises }),
    ...(stays.length === 0 ? {} : { stays_liquid: stays }),
  };
  const asked = JSON.stringify(about);
  useEffect(() => {
    const abort = new AbortController();
    const wait = setTimeout(() => {
      pathOf(about, abort.signal).then(
        (answer) => (phases.value = answer),
        (problem: unknown) => {
          if (!(problem instanceof Refused || problem instanceof Unreachable || problem instanceof DOMException)) throw problem;
        },
      );
    }, 150);
    return () => {
      clearTimeout(wait);
      abort.abort();
    };
  }, [asked]);
  const answer = judge.answer.value;
  return (
    <div class="stack">
      {answer !== null && (
        <section class="sheet stack" aria-label={t("freezing.vessel")}>
          <h2>{t("freezing.vessel")}</h2>
          <div class="scroll" tabIndex={0} role="group" aria-label={t("freezing.vessel")}>
            <table class="cards">
              <thead>
                <tr><th>{t("freezing.container")}</th><th class="n">{t("form.fill")}</th><th class="n">{t("freezing.solid")}</th><th class="n">{t("freezing.target")}</th></tr>
              </thead>
              <tbody>
                {answer.sample.freezing.map((f) => (
                  <tr key={f.container}>
                    <th scope="row">{f.count} × {f.container.replace(/_/g, " ")}</th>
                    <td class="n" data-label={t("form.fill")}>{number(f.fill_mL)} mL</td>
                    <td class="n" data-label={t("freezing.solid")}>{f.solid_s === null ? t("freezing.never") : duration(f.solid_s / 3600)}</td>
                    <td class="n" data-label={t("freezing.target")}>{f.target_s === null ? t("freezing.never") : `${duration(f.target_s / 3600)} (${show(f.target_C, "temperature")})`}</td>
                  </tr>
                ))}
              </tbody>
            </table>
          </div>
          <p class="small quiet">{t("freezing.loaded", { temperature: show(answer.sample.loaded_at_C, "temperature"), share: number(answer.sample.framework_when_loaded_percent_v_v) })}</p>
        </section>
      )}
      {phases.value !== null && <Path phases={phases.value} />}
      {mixture !== "" && <Picture about={about} dryer={yaml.at(["dryer"])} parts={parseComposition(mixture)?.parts.length ?? 0} />}
    </div>
  );
}

/* The picture that suits the number of components: temperature against composition, a triangle at one temperature, or
   the vapour pressures beside what trap and pump stand. */
function Picture({ about, dryer, parts }: { about: object; dryer: string; parts: number }) {
  const { picture = parts === 2 || parts === 3 ? "phases" : "pressure", at = "-45" } = place.value.query;
  const triangle = picture === "phases" && parts === 3;
  const { mixture, ...how } = about as { mixture: string };
  return (
    <section class="sheet stack" aria-label={t("freezing.map")}>
      <div class="row no-print">
        {(parts === 2 || parts === 3) && (
          <div class="segments" role="group" aria-label={t("freezing.picture")}>
            <button aria-pressed={picture === "phases"} onClick={() => adjust({ picture: "phases" })}>{t("freezing.map")}</button>
            <button aria-pressed={picture === "pressure"} onClick={() => adjust({ picture: "pressure" })}>{t("freezing.pressures")}</button>
          </div>
        )}
        {triangle && (
          <label class="row small">
            {t("freezing.at")}
            <select value={at} style={{ width: "auto" }} onChange={(event) => adjust({ at: event.currentTarget.value })}>
              {["0", "-10", "-20", "-30", "-40", "-45", "-50", "-60", "-70", "-80"].map((one) => <option key={one} value={one}>{show(Number(one), "temperature")}</option>)}
            </select>
          </label>
        )}
      </div>
      <ServerFigure
        name={picture === "phases" ? "phases" : "pressure"}
        title={picture === "phases" ? t("freezing.map") : t("freezing.pressures")}
        request={picture === "phases" ? { mixture, ...how, ...(triangle ? { temperature: [`${at} °C`] } : {}) } : { mixture, ...how, ...(dryer === "" ? {} : { dryer }) }}
      />
    </section>
  );
}

function Path({ phases }: { phases: Phases }) {
  const figure = pathFigure(phases);
  return (
    <section class="sheet stack" aria-label={t("freezing.path")}>
      <Plot figure={figure} />
      <ol class="stack small">
        {phases.changes.map((change, i) => (
          <li key={i}>
            <span class="number">{show(change.temperature_C, "temperature")}</span> {change.temperature_sigma_K !== null && <span class="faint">± {number(change.temperature_sigma_K, 2)} K</span>} {change.on_cooling}
          </li>
        ))}
      </ol>
      <p class="small quiet">{t("freezing.alone")}</p>
      <details>
        <summary>{t("freezing.trust", { grade: phases.trust.grade })}</summary>
        <ul class="stack small">
          {phases.trust.pairs.map((pair) => (
            <li key={pair.substances.join()}>
              <strong>{pair.substances.join(" + ")}</strong>: {pair.grade}
              {pair.from_C !== null && pair.to_C !== null && `, ${show(pair.from_C, "temperature")} … ${show(pair.to_C, "temperature")}`}; {pair.source}
            </li>
          ))}
        </ul>
      </details>
    </section>
  );
}

/** Mass shares of each phase along the temperature. */
function pathFigure(phases: Phases): FigureNumbers {
  const rows = [...phases.table].sort((a, b) => a.temperature_C - b.temperature_C);
  const solids = [...new Set(rows.flatMap((row) => row.solids.map((s) => (s as { solid: string }).solid)))];
  const lines: Line[] = solids.map((solid, i) => ({
    label: solid.replace(/_/g, " "),
    colour: ((i % 7) + 1) as Line["colour"],
    values: rows.map((row) => (row.solids as { solid: string; percent_w_w: number }[]).find((s) => s.solid === solid)?.percent_w_w ?? 0),
  }));
  lines.push({ label: t("freezing.liquid"), colour: 7, dash: [6, 4], values: rows.map((row) => row.liquids.reduce((sum, liquid) => sum + (liquid.percent_w_w ?? 0), 0)) });
  return {
    key: "freezing",
    title: t("freezing.path"),
    x: { label: t("run.temperature"), quantity: "temperature", values: rows.map((row) => row.temperature_C) },
    y: { label: t("freezing.share"), quantity: "none", unit: "% w/w", from: 0, to: 102 },
    lines,
  };
}
