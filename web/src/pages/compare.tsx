/* Jobs of the workspace on several dryers side by side: how each stands there, how long it takes, what it gives off. */
import { useSignal } from "@preact/signals";
import { Fragment } from "preact";
import { useEffect } from "preact/hooks";
import type { Compare } from "../api/types";
import { get, onReturn } from "../api/client";
import { Far } from "../parts/asking";
import { download } from "../parts/figure";
import { StandingBadge } from "../parts/standing";
import { briefs, watchBriefs } from "../store/briefs";
import { address, adjust, place } from "../store/place";
import { duration, fixed, show } from "../store/quantity";
import { builtInDryers, dryers, generation, jobs, type Listed, reasonOf } from "../store/workspace";
import { Work } from "../store/work";
import { t, textOf } from "../text/text";

type Cell = Compare["jobs"][number]["on"][number];

const mostDryers = 8;
const mostJobs = 16;
const atFirst = 8;
const split = (text: string | undefined) => (text ?? "").split(",").filter((one) => one !== "");

/* One for all visits of the page: its answer is still there when one comes back. */
const work = new Work<Compare>();
const held = { value: false };

function chosenJobs(): Listed[] {
  const sound = (jobs.value ?? []).filter((one) => one.sound);
  const asked = split(place.value.query.jobs);
  return asked.length === 0 && place.value.query.jobs === undefined ? sound.slice(0, atFirst) : sound.filter((one) => asked.includes(one.name)).slice(0, mostJobs);
}

function chosenDryers(): string[] {
  const asked = split(place.value.query.dryers);
  return place.value.query.dryers === undefined ? builtInDryers.value.map((one) => one.key) : [...new Set(asked)].slice(0, mostDryers);
}

export default function ComparePage() {
  const problem = useSignal("");
  useEffect(() => {
    document.title = `${t("nav.compare")} · dryfront`;
    return watchBriefs();
  }, []);
  const rows = chosenJobs();
  const columns = chosenDryers();
  const of = JSON.stringify([rows.map((one) => [one.name, one.etag]), columns, generation.value, dryers.value?.map((one) => one.etag)]);
  const ask = async () => {
    problem.value = "";
    try {
      const texts: Record<string, string> = {};
      for (const one of rows) texts[one.name] = (await get(`workspace/jobs/${encodeURIComponent(one.name)}`)).body as string;
      await work.ask("compare", { jobs: texts, dryer: columns }, of);
    } catch (reason) {
      problem.value = reasonOf(reason);
    }
  };
  const enough = rows.length > 0 && columns.length > 0 && dryers.value !== null;
  useEffect(() => {
    if (!enough || work.of.peek() === of || held.value) return;
    const wait = setTimeout(() => void ask(), 400);
    return () => clearTimeout(wait);
  }, [of, enough]);
  useEffect(
    () =>
      onReturn(() => {
        if (problem.peek() !== "" || work.problem.peek() !== "") void ask();
      }),
    [of],
  );

  const answer = work.answer.value;
  const progress = work.progress.value;
  const stale = work.of.value !== of;
  const said = problem.value || work.problem.value;
  return (
    <div class="stack">
      <div class="row between">
        <div class="intro">
          <h1>{t("compare.title")}</h1>
          <p class="quiet">{t("compare.what")}</p>
        </div>
        {answer !== null && <button class="no-print" onClick={() => download("dryfront-compare.csv", csv(answer), "text/csv")}>{t("figure.csv")}</button>}
      </div>
      <Choice rows={rows} columns={columns} />
      {progress !== null && (
        <div class="row" role="status">
          <Far label={t("compare.working")} now={progress} />
          <button onClick={() => { held.value = true; work.stop(); }}>{t("ceilings.stop")}</button>
        </div>
      )}
      {said !== "" && <p class="note alarm" role="alert">{said}</p>}
      {progress === null && enough && stale && (held.value || said !== "") && <p><button class="main" onClick={() => { held.value = false; void ask(); }}>{t("compare.begin")}</button></p>}
      {!enough && jobs.value !== null && <p class="quiet">{t(jobs.value.length === 0 ? "compare.no_jobs" : "compare.choose")}</p>}
      {answer !== null && (
        <div class={stale ? "sheet stale" : "sheet"} aria-busy={stale}>
          <Matrix answer={answer} names={namesOf(work.of.value)} />
        </div>
      )}
      <p class="small faint">{t("compare.reads")}</p>
    </div>
  );
}

/* The workspace's names of the jobs that an answer is of, in its order: that of the fields of the object that asked. */
function namesOf(of: string): string[] {
  return of === "" ? [] : Object.keys(Object.fromEntries((JSON.parse(of) as [[string, string][]])[0]));
}

function Choice({ rows, columns }: { rows: Listed[]; columns: string[] }) {
  const names = rows.map((one) => one.name);
  const put = (key: "jobs" | "dryers", list: string[]) => adjust({ [key]: list.length === 0 ? "," : list.join(",") });
  const toggled = (list: string[], name: string) => (list.includes(name) ? list.filter((one) => one !== name) : [...list, name]);
  const all = (jobs.value ?? []).filter((one) => one.sound);
  return (
    <section class="sheet stack no-print" aria-label={t("ceilings.choice")}>
      <div class="row" role="group" aria-label={t("ceilings.dryers")}>
        <span class="small quiet">{t("ceilings.dryers")}</span>
        {[...(dryers.value ?? []).map((one) => one.name), ...builtInDryers.value.map((one) => one.key)].map((name) => (
          <button key={name} class="chip" aria-pressed={columns.includes(name)} disabled={!columns.includes(name) && columns.length >= mostDryers} onClick={() => put("dryers", toggled(columns, name))}>
            {name}
          </button>
        ))}
      </div>
      <div class="row" role="group" aria-label={t("home.jobs")}>
        <span class="small quiet">{t("home.jobs")}</span>
        {all.map((one) => (
          <button key={one.name} class="chip" aria-pressed={names.includes(one.name)} disabled={!names.includes(one.name) && names.length >= mostJobs} onClick={() => put("jobs", toggled(names, one.name))}>
            {briefs.value[one.name]?.title ?? one.name}
          </button>
        ))}
        {all.length > 2 && names.length < Math.min(all.length, mostJobs) && <button class="plain" onClick={() => put("jobs", all.slice(0, mostJobs).map((one) => one.name))}>{t("compare.all")}</button>}
        {names.length > 1 && <button class="plain" onClick={() => put("jobs", [])}>{t("compare.none")}</button>}
      </div>
    </section>
  );
}

function Matrix({ answer, names }: { answer: Compare; names: string[] }) {
  const open = place.value.query.open ?? "";
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={t("compare.title")}>
      <table class="compare" role="table" style={{ minWidth: answer.dryers.length > 2 ? `${170 + answer.dryers.length * 190}px` : undefined }}>
        <thead role="rowgroup">
          <tr role="row">
            <th role="columnheader">{t("compare.job")}</th>
            {answer.dryers.map((dryer) => (
              <th role="columnheader" key={dryer.name}>
                <div class="column-head">
                  <span>{dryers.value?.some((one) => one.name === dryer.name) ? <a href={address(["dryer", dryer.name])}>{dryer.name}</a> : dryer.name}</span>
                  <span class="small quiet">{t("compare.dryer", { temperature: show(dryer.trap_no_load_C, "temperature"), pump: textOf(`pump.${dryer.pump}`, dryer.pump.replace(/_/g, " ")) })}</span>
                </div>
              </th>
            ))}
          </tr>
        </thead>
        <tbody role="rowgroup">
          {answer.jobs.map((job, i) => {
            const name = names[i] ?? job.job;
            const shown = job.on.find((_, k) => open === `${name}@${answer.dryers[k]!.name}`);
            return (
              <Fragment key={name}>
                <tr role="row">
                  <th role="rowheader" class="title">
                    <a href={address(["job", name])}>{job.job}</a>
                    <p class="small faint">{textOf(`purpose.${job.purpose}`, job.purpose)}</p>
                  </th>
                  {job.on.map((cell, k) => {
                    const key = `${name}@${answer.dryers[k]!.name}`;
                    return (
                      <td role="cell" key={key}>
                        <button class="cell" aria-expanded={open === key} onClick={() => adjust({ open: open === key ? "" : key })}>
                          <CellText cell={cell} dryer={answer.dryers[k]!.name} />
                        </button>
                      </td>
                    );
                  })}
                </tr>
                {shown !== undefined && (
                  <tr role="row" class="because">
                    <td role="cell" colSpan={answer.dryers.length + 1}>
                      <p aria-live="polite"><b>{shown.dryer}</b>: {shown.because}{shown.recipe_adapted && <> <span class="quiet">{t("compare.adapted")}</span></>}</p>
                    </td>
                  </tr>
                )}
              </Fragment>
            );
          })}
        </tbody>
      </table>
    </div>
  );
}

function CellText({ cell, dryer }: { cell: Cell; dryer: string }) {
  const head = <b class="small narrow-only">{dryer}</b>;
  if (!cell.fits || cell.standing === null) return <>{head}<span class="quiet">{t("compare.no_fit")}</span></>;
  const sigma = cell.least_margin_sigma_K;
  const margin = cell.least_margin_K === null ? "" : `${fixed(cell.least_margin_K, 1)}${sigma === null ? "" : ` ± ${fixed(Math.max(sigma, 0.1), 1)}`} K`;
  return (
    <>
      {head}
      <span class="row slim">
        <span class="row tight"><StandingBadge standing={cell.standing} />{cell.recipe_adapted && <span title={t("compare.adapted")} aria-label={t("compare.adapted")} role="img">*</span>}</span>
        <span class="small quiet">{cell.acceptable ? (cell.standing === "wetted" ? t("accept.care") : t("accept.yes")) : t("accept.no")}</span>
      </span>
      {cell.run_h === null ? <span class="small">{t("compare.not_run")}</span> : (
        <>
          <span class="small"><b class="number">{duration(cell.run_h)}</b>{margin !== "" && <span class="number"> {t("compare.margin", { margin })}</span>}</span>
          {cell.vented_g !== null && <span class="small number quiet">{t("compare.vented", { mass: cell.vented_g < 1e-3 ? `< ${show(1e-3, "mass", 1)}` : show(cell.vented_g, "mass") })}</span>}
        </>
      )}
      {cell.cause !== null && cell.cause !== "none" && <span class="small quiet">{textOf(`cause.${cell.cause}`, cell.cause)}</span>}
    </>
  );
}

function csv(answer: Compare): string {
  const quoted = (value: string | number | boolean | null) => (value === null ? "" : /[",\n]/.test(String(value)) ? `"${String(value).replace(/"/g, '""')}"` : String(value));
  const columns = ["fits", "recipe_adapted", "standing", "acceptable", "cause", "run_h", "primary_drying_h", "least_margin_K", "least_margin_sigma_K", "vented_g", "because"] as const;
  const rows = answer.jobs.flatMap((job) => job.on.map((cell, k) => [job.job, job.purpose, answer.dryers[k]!.name, ...columns.map((c) => cell[c])].map(quoted).join(",")));
  return [["job", "purpose", "dryer", ...columns].join(","), ...rows].join("\r\n") + "\r\n";
}
