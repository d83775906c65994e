/* How the job stands, why, what would have to change, and what the answer rests on. */
import type { Standing } from "../../api/types";
import { StandingBadge } from "../../parts/standing";
import { duration, fixed, number, show } from "../../store/quantity";
import { t, type TextKey, textOf } from "../../text/text";
import { address } from "../../store/place";
import { takeOver } from "../../store/take";
import { useContext, useEffect, useMemo, useState } from "preact/hooks";
import { FormContext } from "../../parts/fields";
import type { JobGiven } from "../job";

export function StandingPage({ kept, judge }: JobGiven) {
  const answer = judge.answer.value;
  if (answer === null) return judge.fault.value === null && !judge.gone.value ? <p class="quiet">{t("job.judging")}</p> : null;
  const stale = judge.stale.value || judge.fault.value !== null;
  const whole = judge.whole.value;
  return (
    <div class={stale ? "stack stale" : "stack"} aria-busy={stale}>
      <section class="sheet stack" aria-label={t("job.standing")}>
        <div class="row between">
          <div aria-live="polite" class="row">
            <StandingBadge standing={answer.standing} big />
            <span class="quiet">{t(`standing.${answer.standing}.meaning` as TextKey)}</span>
          </div>
          <span class="small">
            {t(`purpose.${answer.purpose}` as TextKey)}: <strong>{answer.acceptable ? (answer.standing === "wetted" ? t("accept.care") : t("accept.yes")) : t("accept.no")}</strong>
          </span>
        </div>
        <p>{answer.because}</p>
        <Key answer={answer} />
        <p class="small faint">
          {whole === null
            ? judge.keptFrom.value !== null
              ? ""
              : judge.progress.value === null
              ? t("judge.quick", { ms: number(judge.waited.value, 2) })
              : t("judge.whole_running")
            : whole.bands === null
              ? t("judge.no_bands")
              : t(whole.bands.best_standing === whole.bands.worst_standing ? "judge.bands.same" : "judge.bands", { best: t(`standing.${whole.bands.best_standing}` as TextKey), worst: t(`standing.${whole.bands.worst_standing}` as TextKey) })}
        </p>
      </section>
      {whole !== null && whole.remedies.length > 0 && (
        <section class="sheet" aria-label={t("remedies")}>
          <h2>{t("remedies")}</h2>
          <ul class="stack">
            {whole.remedies.map((remedy) => (
              <li key={remedy.text} class="row between">
                <span style={{ flex: "1 1 320px" }}>{remedy.text}</span>
                <StandingBadge standing={remedy.standing} />
                <span class="number quiet">{remedy.drying_h === null ? "" : t("dries_in", { time: duration(remedy.drying_h) })}</span>
                {remedy.job !== null && <button aria-label={`${t("take_over")}: ${remedy.text}`} onClick={() => void takeOver(kept, remedy.job!, remedy.dryers)}>{t("take_over")}</button>}
              </li>
            ))}
          </ul>
        </section>
      )}
      {answer.run !== null && <Why answer={answer} name={kept.name} />}
      {answer.run !== null && answer.run.notices.length > 0 && <Notices answer={answer} />}
      <Cautions answer={answer} />
    </div>
  );
}

/** The evidence in one figure; its code comes when the answer already stands. */
function Why({ answer, name }: { answer: Standing; name: string }) {
  const [parts, setParts] = useState<{ Plot: typeof import("../../parts/plot").Plot; figures: typeof import("./run").runFigures } | null>(null);
  useEffect(() => {
    void Promise.all([import("../../parts/plot"), import("./run")]).then(([plot, run]) => setParts({ Plot: plot.Plot, figures: run.runFigures }));
  }, []);
  const figure = useMemo(() => {
    if (parts === null || answer.run === null) return null;
    const found = parts.figures(answer.run, answer.margin_asked_K)[0]!;
    return { ...found, key: "why", title: t("run.why") };
  }, [parts, answer]);
  return (
    <section class="sheet" aria-label={t("run.why")} style={{ minHeight: "290px" }}>
      {parts !== null && figure !== null && <parts.Plot figure={figure} height={200} />}
      <p class="row small no-print">
        <a href={address(["job", name, "run"])}>{t("run.more")}</a>
        <CeilingsLink answer={answer} />
      </p>
    </section>
  );
}

/* Where the richest solvent of this job lies on its dryer's ceilings. */
function CeilingsLink({ answer }: { answer: Standing }) {
  const { yaml } = useContext(FormContext);
  const richest = [...answer.sample.composition].filter((one) => one.substance !== "water").sort((a, b) => b.percent_v_v - a.percent_v_v)[0];
  const query = { dryers: yaml.at(["dryer"]), ...(richest === undefined ? {} : { solvent: richest.substance, percent: richest.percent_v_v.toPrecision(3) }) };
  return <a href={address(["ceilings"], query)}>{t("standing.ceilings")}</a>;
}

function Key({ answer }: { answer: Standing }) {
  const run = answer.run;
  const band = (sigma: number | null | undefined, unit: string) => (sigma === null || sigma === undefined ? null : <small> ± {fixed(sigma, 1)} {unit}</small>);
  const margin = run === null ? null : Math.min(...run.classes.map((c) => c.least_margin_K ?? Infinity));
  const hottest = run?.classes.reduce<(typeof run.classes)[number] | null>((worst, c) => (worst === null || (c.least_margin_K ?? Infinity) < (worst.least_margin_K ?? Infinity) ? c : worst), null);
  const solid = Math.max(...answer.sample.freezing.map((f) => f.target_s ?? 0));
  return (
    <dl class="facts">
      <div><dt>{t("key.first_solid")}</dt><dd>{show(answer.sample.first_solid_C, "temperature")}{band(answer.sample.first_solid_sigma_K, "K")}</dd></div>
      <div><dt>{t("key.solidus")}</dt><dd>{show(answer.sample.solidus_C, "temperature")}{band(answer.sample.solidus_sigma_K, "K")}</dd></div>
      {answer.sample.solute_critical_C !== null && <div><dt>{t("key.critical")}</dt><dd>{show(answer.sample.solute_critical_C, "temperature")}</dd></div>}
      {run !== null && margin !== null && Number.isFinite(margin) && (
        <div><dt>{t("key.margin")}</dt><dd>{show(margin, "temperature difference")}{band(answer.bands?.least_margin_sigma_K, "K")}</dd>{hottest?.least_margin_h != null && <dd class="small faint">{t("at_time", { time: duration(Math.max(hottest.least_margin_h, 0)) })}</dd>}</div>
      )}
      <div><dt>{t("key.freezing")}</dt><dd>{duration(solid / 3600)}</dd></div>
      {run !== null && <div><dt>{t("key.drying")}</dt><dd>{run.primary_h === null ? t("key.not_dry", { time: duration(run.time_h) }) : duration(run.primary_h)}{band(answer.bands?.primary_drying_sigma_h, "h")}</dd></div>}
      {run !== null && <div><dt>{t("key.to_pump")}</dt><dd>{show(run.organic_to_pump_g, "mass")}</dd></div>}
      {run !== null && <div><dt>{t("key.highest")}</dt><dd>{show(run.highest_chamber_mbar, "pressure")}</dd></div>}
    </dl>
  );
}

const sentence = (text: string) => (/[.!?]$/.test(text) ? text : `${text}.`);

function Notices({ answer }: { answer: Standing }) {
  return (
    <section class="sheet" aria-label={t("notices")}>
      <h2>{t("notices")}</h2>
      <ol class="stack">
        {answer.run!.notices.map((notice, i) => (
          <li key={i} class={`note ${notice.weight}`}>
            <div class="row">
              <span class="number">{duration(Math.max(notice.time_h, 0))}</span>
              <strong>{textOf(`weight.${notice.weight}`, notice.weight)}</strong>
              <span>{notice.what}</span>
              {notice.class !== null && <span class="faint small">{notice.class}</span>}
            </div>
            {(notice.evidence !== "" || notice.action !== "") && (
              <p class="small quiet">
                {notice.evidence !== "" && `${sentence(notice.evidence)} `}
                {notice.action !== "" && <><em>{t("notice.action")}</em> {notice.action}.</>}
              </p>
            )}
          </li>
        ))}
      </ol>
    </section>
  );
}

/** The usual cautions, beside the answer that they belong to; the words about each substance come from the server. */
function Cautions({ answer }: { answer: Standing }) {
  return (
    <section class="caution small" aria-label={t("caution.title")}>
      <h3>{t("caution.title")}</h3>
      <ul class="stack" style={{ gap: "4px" }}>
        {answer.sample.cautions.slice(0, -1).map((text) => <li key={text}>{sentence(text.replace(/; local rules and its safety data sheet come first$/, ""))}</li>)}
        <li>{t("caution.always")}</li>
      </ul>
    </section>
  );
}
