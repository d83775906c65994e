/* How the job stands, why, what would have to change, and what the answer rests on. */
import type { Standing } from "../../api/types";
import { StandingBadge } from "../../parts/standing";
import { duration, fixed, number, show } from "../../store/quantity";
import { t, type TextKey, textOf } from "../../text/text";
import type { JobGiven } from "../job";

export function StandingPage({ kept, judge }: JobGiven) {
  const answer = judge.answer.value;
  if (answer === null) return judge.fault.value === null ? <p class="quiet">{t("job.judging")}</p> : null;
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
            ? judge.progress.value === null
              ? t("judge.quick", { ms: number(judge.waited.value, 2) })
              : t("judge.whole_running")
            : whole.bands === null
              ? t("judge.no_bands")
              : t("judge.bands", { best: t(`standing.${whole.bands.best_standing}` as TextKey), worst: t(`standing.${whole.bands.worst_standing}` as TextKey) })}
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
                {takeable(remedy) !== null && <button onClick={() => kept.edit(takeable(remedy)!)}>{t("take_over")}</button>}
              </li>
            ))}
          </ul>
        </section>
      )}
      {answer.run !== null && answer.run.notices.length > 0 && <Notices answer={answer} />}
      <Cautions answer={answer} />
    </div>
  );
}

/* The changed job, where the answer brings it. */
function takeable(remedy: object): string | null {
  const job = (remedy as { job?: string | null }).job;
  return typeof job === "string" ? job : null;
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
        <div><dt>{t("key.margin")}</dt><dd>{show(margin, "temperature difference")}{band(answer.bands?.least_margin_sigma_K, "K")} {hottest?.least_margin_h !== null && <small>{t("at_time", { time: duration(hottest?.least_margin_h) })}</small>}</dd></div>
      )}
      <div><dt>{t("key.freezing")}</dt><dd>{duration(solid / 3600)}</dd></div>
      {run !== null && <div><dt>{t("key.drying")}</dt><dd>{run.primary_h === null ? t("key.not_dry", { time: duration(run.time_h) }) : duration(run.primary_h)}{band(answer.bands?.primary_drying_sigma_h, "h")}</dd></div>}
      {run !== null && <div><dt>{t("key.to_pump")}</dt><dd>{show(run.organic_to_pump_g, "mass")}</dd></div>}
      {run !== null && <div><dt>{t("key.highest")}</dt><dd>{show(run.highest_chamber_mbar, "pressure")}</dd></div>}
    </dl>
  );
}

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
            <p class="small quiet">{notice.evidence}. <em>{t("notice.action")}</em> {notice.action}.</p>
          </li>
        ))}
      </ol>
    </section>
  );
}

/** The usual cautions, beside the answer that they belong to; the words about each substance come from the server. */
function Cautions({ answer }: { answer: Standing }) {
  const said = (answer as { cautions?: string[] }).cautions ?? [];
  return (
    <section class="caution small" aria-label={t("caution.title")}>
      <h3>{t("caution.title")}</h3>
      {said.map((text) => <p key={text}>{text}</p>)}
      <p>{t("caution.always")}</p>
    </section>
  );
}
