/* The recipe: its set points drawn and written, the run that follows from them at once, and the fastest that keeps the limits. */
import { useComputed, useSignal } from "@preact/signals";
import { useContext, useEffect, useId } from "preact/hooks";
import type { Recipe, RecipePlan } from "../../api/types";
import { Asking, outOfDate } from "../../parts/asking";
import { FormContext, QuantityInput } from "../../parts/fields";
import { csvText, download } from "../../parts/figure";
import { RecipeRows } from "../../parts/job_form";
import { Plot } from "../../parts/plot";
import { type Behind, readRecipe, RecipeDrawing, type SetPoint } from "../../parts/recipe_drawing";
import { SpaceDrawing } from "../../parts/space_drawing";
import { StandingBadge } from "../../parts/standing";
import { workOf } from "../../store/asked";
import { dryerText } from "../../store/dryer_texts";
import { adjust, place } from "../../store/place";
import { duration, fixed, number, show } from "../../store/quantity";
import { takeOver } from "../../store/take";
import { builtInDryers, dryers } from "../../store/workspace";
import { Yaml } from "../../store/yaml";
import { t } from "../../text/text";
import type { JobGiven } from "../job";
import { runFigures } from "./run";
import "../../style/advice.css";

const options = [
  ["warmest", "temperature"],
  ["pressure", "pressure"],
  ["ramp", "ramp"],
] as const;

/** One of the recipes that are compared. */
interface Choice {
  key: string;
  label: string;
  plan: RecipePlan | null;
  recommended: boolean;
}

function choicesOf(recipe: Recipe): Choice[] {
  return [
    ...recipe.in_holds.map((one): Choice => ({ key: String(one.holds), label: t(one.holds === 1 ? "recipe.hold" : "recipe.holds", { count: one.holds }), plan: one.plan, recommended: one.holds === recipe.holds_to_take })),
    { key: "path", label: t("recipe.path"), plan: recipe.fastest_path, recommended: false },
    { key: "own", label: t("recipe.as_it_is"), plan: recipe.as_it_is, recommended: false },
  ];
}

const pointsOf = (plan: RecipePlan): SetPoint[] => plan.set_points.map((p) => ({ time: p.time_h, shelf: p.shelf_C, pressure: p.chamber_pressure_mbar }));

/* Whether the dryer holds a pressure at all; true while that is not known. */
function useHolds(dryer: string): boolean {
  const holds = useSignal(true);
  const [listed, builtIn] = [dryers.value, builtInDryers.value];
  useEffect(() => {
    let gone = false;
    void dryerText(dryer).then((text) => {
      if (!gone) holds.value = text === null || !["", "none"].includes(new Yaml(text).at(["chamber", "control"]));
    });
    return () => {
      gone = true;
    };
  }, [dryer, listed, builtIn]);
  return holds.value;
}

export function RecipePage({ kept, judge }: JobGiven) {
  const work = workOf<Recipe>("recipe", kept.name);
  const { query } = place.value;
  const { yaml } = useContext(FormContext);
  const holds = useHolds(yaml.at(["dryer"]));
  const offered = options.filter(([key]) => holds || key !== "pressure");
  const asked = Object.fromEntries(offered.map(([key]) => [key, query[key] ?? ""]).filter(([, value]) => value !== ""));
  const request = { job: kept.text.value, ...asked, ...(holds ? { space: true } : {}) };
  const cursor = useSignal<number | null>(null);
  const recipe = work.answer.value;
  const choices = recipe === null ? [] : choicesOf(recipe);
  const drawable = choices.filter((one) => one.plan !== null && one.key !== "own");
  const wished = drawable.some((one) => one.key === (query.behind ?? "path")) ? (query.behind ?? "path") : "none";
  const behind: Behind[] = drawable.filter((one) => one.key === wished).map((one) => ({ label: one.label, points: pointsOf(one.plan!) }));
  const onShelf = yaml.length(["recipe"]) > 0;
  return (
    <div class="stack">
      {onShelf ? (
        <section class="sheet stack" aria-label={t("recipe.drawing")}>
          <RecipeDrawing pressures={holds} behind={behind} run={judge.answer.value?.run?.time_h ?? null} cursor={cursor.value} />
          {drawable.length > 0 && (
            <label class="row small no-print">
              {t("recipe.behind")}
              <select style={{ width: "auto" }} value={wished} onChange={(event) => adjust({ behind: event.currentTarget.value === "path" ? "" : event.currentTarget.value })}>
                {drawable.map((one) => <option key={one.key} value={one.key}>{one.label}</option>)}
                <option value="none">{t("recipe.behind.none")}</option>
              </select>
            </label>
          )}
          <details>
            <summary>{t("recipe.rows")}</summary>
            <RecipeRows />
          </details>
        </section>
      ) : (
        <section class="sheet stack" aria-label={t("recipe.drawing")}>
          <p class="quiet">{t("recipe.none")}</p>
          <RecipeRows />
        </section>
      )}
      <Outcome judge={judge} onCursor={(x) => (cursor.value = x)} />
      <Asking title={t("recipe.fastest")} work={work} path="recipe" request={request} ask={t("recipe.ask")} hint={t("recipe.hint")} barred={judge.fault.value !== null}>
        <div class="fields">
          {offered.map(([key, unit]) => <OptionField key={key} option={key} unit={unit} />)}
        </div>
        {!holds && <p class="small quiet">{t("recipe.no_control")}</p>}
      </Asking>
      {recipe !== null && (
        <div class={outOfDate(work, request) || work.progress.value !== null ? "stack stale" : "stack"}>
          <Found recipe={recipe} choices={choices} kept={kept} />
          {recipe.design_space !== null && (
            <section class="sheet" aria-label={t("space.title")}>
              <SpaceDrawing space={recipe.design_space} points={readRecipe(yaml) ?? []} />
              <p class="small faint">{t("space.about")}</p>
            </section>
          )}
        </div>
      )}
    </div>
  );
}

function OptionField({ option, unit }: { option: (typeof options)[number][0]; unit: (typeof options)[number][1] }) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{t(`recipe.${option}`)}</label>
      <QuantityInput id={id} value={place.value.query[option] ?? ""} unit={unit} otherwise={t(`recipe.${option}.else`)} onValue={(value) => adjust({ [option]: value })} />
    </div>
  );
}

/* The run of the recipe as it is edited, against its limits. */
function Outcome({ judge, onCursor }: { judge: JobGiven["judge"]; onCursor: (x: number | null) => void }) {
  const figures = useComputed(() => {
    const answer = judge.answer.value;
    return answer?.run == null ? [] : runFigures(answer.run, answer.margin_asked_K).slice(0, 2);
  });
  const answer = judge.answer.value;
  if (answer === null) return <p class="quiet">{judge.fault.value === null ? t("job.judging") : ""}</p>;
  const { run } = answer;
  const margin = run === null ? null : run.classes.reduce<number | null>((least, c) => (c.least_margin_K === null ? least : least === null ? c.least_margin_K : Math.min(least, c.least_margin_K)), null);
  const stale = judge.stale.value || judge.fault.value !== null;
  return (
    <section class={stale ? "sheet stack stale" : "sheet stack"} aria-label={t("recipe.outcome")} aria-busy={stale}>
      <div class="row">
        <StandingBadge standing={answer.standing} />
        <span class="number">{run === null ? "" : run.primary_h === null ? t("key.not_dry", { time: duration(run.time_h) }) : t("recipe.primary", { time: duration(run.primary_h) })}</span>
        {margin !== null && <span class="quiet">{t("recipe.margin", { margin: show(margin, "temperature difference"), asked: show(answer.margin_asked_K, "temperature difference") })}</span>}
      </div>
      {run === null && <p class="quiet">{t("run.none")}</p>}
      {figures.value.map((figure, i) => <Plot key={figure.key} figure={figure} joined="recipe" height={i === 0 ? 250 : 200} onCursor={onCursor} />)}
    </section>
  );
}

function Found({ recipe, choices, kept }: { recipe: Recipe; choices: Choice[]; kept: JobGiven["kept"] }) {
  const plans = choices.map((one) => one.plan).filter((plan): plan is RecipePlan => plan !== null);
  const longest = Math.max(...plans.map((plan) => plan.time_h ?? 0), 1e-9);
  const fastest = recipe.fastest_path?.time_h ?? null;
  const take = (choice: Choice) => {
    const entries = choice.plan!.set_points.map((p, i) => ({
      time: `${Number(p.time_h.toPrecision(6))} h`,
      shelf_temperature: `${Number(p.shelf_C.toPrecision(6))} °C`,
      ...(p.chamber_pressure_mbar === choice.plan!.set_points[i - 1]?.chamber_pressure_mbar || (i === 0 && p.chamber_pressure_mbar === null) ? {} : { chamber_pressure: `${Number((p.chamber_pressure_mbar ?? 0).toPrecision(6))} mbar` }),
    }));
    void takeOver(kept, choice.plan!.job ?? new Yaml(kept.text.value).withEntries(["recipe"], entries), {}, "recipe");
  };
  const csv = () =>
    csvText([
      ["recipe", "time_h", "shelf_C", "chamber_pressure_mbar", "ruled_by"],
      ...choices.flatMap((one) => (one.plan?.set_points ?? []).map((p) => [one.label, p.time_h, p.shelf_C, p.chamber_pressure_mbar, p.ruled_by])),
    ]);
  const [from, to] = [Math.min(...plans.flatMap((plan) => plan.set_points.map((p) => p.shelf_C))), Math.max(...plans.flatMap((plan) => plan.set_points.map((p) => p.shelf_C)))];
  return (
    <section class="sheet stack" aria-label={t("recipe.found")}>
      <div class="row between">
        <h2>{recipe.found ? t("recipe.found") : t("recipe.not_found")}</h2>
        <button class="plain no-print" onClick={() => download("dryfront-recipes.csv", csv(), "text/csv")}>{t("figure.csv")}</button>
      </div>
      {!recipe.found && <p>{recipe.because}. {recipe.obstacle !== "none" && t("recipe.obstacle", { what: t(`bound.${recipe.obstacle}`) })}</p>}
      {recipe.found && recipe.holds_to_take === 0 && <p>{t("recipe.only_path")}</p>}
      {recipe.checked_standing !== null && recipe.holds_to_take > 0 && (
        <div class="row small">
          <StandingBadge standing={recipe.checked_standing} />
          <span class="quiet">{t("recipe.checked")}</span>
        </div>
      )}
      <div class="fit">
        <table class="routes">
          <caption class="only-read">{t("recipe.found")}</caption>
          <thead>
            <tr>
              <th>{t("form.recipe")}</th>
              <th class="n">{t("recipe.time")}</th>
              <th class="n">{t("recipe.over")}</th>
              <th class="n">{t("key.margin")}</th>
              <th class="n">{t("recipe.glass")}</th>
              <th class="n">{t("recipe.duct")}</th>
              <th><span class="only-read">{t("take_over")}</span></th>
            </tr>
          </thead>
          {choices.filter((one) => recipe.found || one.plan !== null).map((one) => (
            <tbody key={one.key} class={one.recommended ? "reference" : ""}>
              <tr>
                <th scope="row" class="actions">
                  <div class="row">
                    {one.label}
                    {one.recommended && <span class="tag">{t("recipe.recommended")}</span>}
                  </div>
                  {one.plan === null ? <span class="small faint">{t("recipe.none_keeps")}</span> : !one.plan.keeps_limits ? <span class="small wrong">{t("recipe.breaks", { what: t(`bound.${one.plan.breaks}`) })}</span> : !one.plan.dry ? <span class="small wrong">{t("recipe.not_dry")}</span> : null}
                  {one.plan !== null && <Sketch plan={one.plan} until={longest} from={from} to={to} />}
                  {one.plan !== null && one.plan.slow_ramp_K_per_min !== null && <span class="small quiet">{t("recipe.slow_ramp", { ramp: number(one.plan.slow_ramp_K_per_min, 2) })}</span>}
                  {one.plan !== null && <Points plan={one.plan} />}
                </th>
                {one.plan === null ? (
                  <td colSpan={6} />
                ) : (
                  <>
                    <td class="n" data-label={t("recipe.time")}>
                      {one.plan.dry ? duration(one.plan.time_h) : `>${duration(one.plan.time_h)}`}
                      <span class="meter" aria-hidden="true"><i style={{ width: `${((100 * (one.plan.time_h ?? 0)) / longest).toFixed(1)}%` }} /></span>
                    </td>
                    <td class="n" data-label={t("recipe.over")}>{one.plan.dry && fastest !== null && one.plan.time_h !== null ? more(one.plan.time_h - fastest) : "–"}</td>
                    <td class="n" data-label={t("key.margin")}>{show(one.plan.least_margin_K, "temperature difference")}</td>
                    <td class="n" data-label={t("recipe.glass")}>{show(one.plan.least_glass_margin_K, "temperature difference")}</td>
                    <td class="n" data-label={t("recipe.duct")}>{number(100 * one.plan.highest_choke, 2)} %</td>
                    <td class="n">{one.key !== "own" && <button class={one.recommended ? "main" : ""} aria-label={`${t("take_over")}: ${one.label}`} onClick={() => take(one)}>{t("take_over")}</button>}</td>
                  </>
                )}
              </tr>
            </tbody>
          ))}
        </table>
      </div>
      <p class="small quiet">
        {t("recipe.limits", {
          margin: show(recipe.limits.margin_K, "temperature difference"),
          from: show(recipe.limits.coldest_shelf_C, "temperature"),
          to: show(recipe.limits.warmest_shelf_C, "temperature"),
          ramp: number(recipe.limits.shelf_ramp_K_per_min, 2),
          holds: number(recipe.limits.ramp_between_holds_K_per_min, 2),
          choke: fixed(100 * recipe.limits.choke, 0),
        })}
        {recipe.aim === "wetted" && ` ${t("recipe.wetted")}`}
        {recipe.events_left_out > 0 && ` ${t("recipe.events", { count: recipe.events_left_out })}`} <span class="faint">{t("recipe.runs", { count: recipe.runs })}</span>
      </p>
      <p class="small caution">{t("recipe.beware")}</p>
    </section>
  );
}

const more = (hours: number) => (hours > 0.05 ? `+${duration(hours)}` : hours < -0.05 ? `−${duration(-hours)}` : t("recipe.same"));

/* The set points in words, where one wants to see them before taking them over. */
function Points({ plan }: { plan: RecipePlan }) {
  return (
    <details class="small">
      <summary class="small">{t("recipe.many", { count: plan.set_points.length })}</summary>
      <ol class="plain-list number">
        {plan.set_points.map((p) => (
          <li key={p.time_h}>
            {show(p.time_h, "time")}: {show(p.shelf_C, "temperature")}, {p.chamber_pressure_mbar === null ? t("form.lowest") : show(p.chamber_pressure_mbar, "pressure")}
            {p.ruled_by !== undefined && p.ruled_by !== "none" && <span class="faint"> {t(`bound.${p.ruled_by}`)}</span>}
          </li>
        ))}
      </ol>
    </details>
  );
}

/* The shelf over time, small. */
function Sketch({ plan, until, from, to }: { plan: RecipePlan; until: number; from: number; to: number }) {
  const [w, h] = [150, 26];
  const x = (time: number) => 1 + (time / until) * (w - 2);
  const y = (shelf: number) => h - 3 - ((shelf - from) / (to - from || 1)) * (h - 6);
  const points = plan.set_points.filter((p) => p.time_h <= (plan.time_h ?? Infinity));
  const d = points.map((p, i) => `${i === 0 ? "M" : "L"}${x(p.time_h).toFixed(1)} ${y(p.shelf_C).toFixed(1)}`).join("") + `H${x(Math.max(plan.time_h ?? 0, points[points.length - 1]?.time_h ?? 0)).toFixed(1)}`;
  return (
    <svg viewBox={`0 0 ${w} ${h}`} width={w} height={h} role="img" aria-label={plan.set_points.length > 8 ? t("recipe.many", { count: plan.set_points.length }) : plan.set_points.map((p) => `${show(p.time_h, "time")} ${show(p.shelf_C, "temperature")}`).join(", ")} style={{ display: "block", marginTop: "4px" }}>
      <path d={`M0 ${h - 1}H${w}`} stroke="var(--rule)" />
      <path d={d} fill="none" stroke="var(--line-1)" stroke-width="1.6" />
    </svg>
  );
}
