/* Up to which fraction each solvent in water stands rigid, and wetted, on one dryer or on several side by side. */
import { useComputed } from "@preact/signals";
import { useEffect } from "preact/hooks";
import { onReturn } from "../api/client";
import type { CeilingsOne } from "../api/types";
import { Far } from "../parts/asking";
import { type Ceiling, Strip, StripPatterns, stripTitle, upTo } from "../parts/ceiling_strip";
import { CeilingsMenu, loadText } from "../parts/ceilings_file";
import { Combo } from "../parts/fields";
import { Swatch } from "../parts/standing";
import { ceilingsOf, type DryerCeilings } from "../store/ceilings";
import { address, adjust, place } from "../store/place";
import { number, show } from "../store/quantity";
import { builtInDryers, dryers, generation, substances } from "../store/workspace";
import { t, textOf } from "../text/text";

const most = 8;
const split = (text: string | undefined) => (text ?? "").split(",").map((one) => one.trim()).filter((one) => one !== "");
const spaced = (key: string) => key.replace(/_/g, " ");

/** Names of the dryers asked for in the address, a file's ending left out; the first built-in one where none is. */
function chosen(): string[] {
  const asked = [...new Set(split(place.value.query.dryers).map((one) => one.replace(/\.yaml$/, "")))].slice(0, most);
  const first = builtInDryers.value[0]?.key;
  return asked.length > 0 || first === undefined ? asked : [first];
}

function Page() {
  const names = chosen();
  const { find = "", order = "name", solvent, percent } = place.value.query;
  const also = [...new Set([...split(place.value.query.also), ...(solvent === undefined ? [] : [solvent])])];
  const wanted = `${names.join()} ${also.join()} ${generation.value} ${dryers.value?.map((one) => one.etag).join()}`;
  const ready = dryers.value !== null;
  useEffect(() => {
    document.title = `${t("nav.ceilings")} · dryfront`;
  }, []);
  useEffect(() => {
    if (ready) for (const name of names) void ceilingsOf(name).want(also);
  }, [wanted, ready]);
  useEffect(() => onReturn(() => names.map(ceilingsOf).filter((one) => one.work.problem.value !== "").forEach((one) => one.again(also))), [wanted]);

  const columns = names.map(ceilingsOf);
  const mine = percent !== undefined && Number.isFinite(Number(percent)) ? Number(percent) : undefined;
  const answers = useComputed(() => chosen().map((name) => ceilingsOf(name).answer.value)).value;
  const solvents = [...new Set(answers.flatMap((one) => one?.ceilings.map((c) => c.solvent) ?? []))];
  const of = (answer: CeilingsOne | null, key: string) => answer?.ceilings.find((one) => one.solvent === key) ?? null;
  const height = (key: string) => {
    const first = answers.map((one) => of(one, key)).find((one) => one !== null);
    return (first?.rigid_up_to_percent_v_v ?? -1) * 1000 + (first?.wetted_up_to_percent_v_v ?? -1);
  };
  const rows = solvents
    .filter((key) => spaced(key).includes(find.trim().toLowerCase()) || key === solvent)
    .sort((a, b) => Number(b === solvent) - Number(a === solvent) || (order === "ceiling" ? height(b) - height(a) : 0) || spaced(a).localeCompare(spaced(b)));
  const full = columns.map((column, i) => ({ name: column.name, answer: answers[i]! })).filter((one) => one.answer !== null);
  const add = substances.value.filter((one) => one.has_vapour && one.key !== "water" && !solvents.includes(one.key)).map((one) => ({ value: one.key, text: one.name, also: [...one.aliases, one.formula].join(", ") }));
  return (
    <div class="stack">
      <div class="row between">
        <div class="intro">
          <h1>{t("ceilings.title")}</h1>
          <p class="quiet">{t("ceilings.what")}</p>
        </div>
        {full.length > 0 && (
          <CeilingsMenu of={full} solvents={rows} solvent={solvent} mine={mine}>
            <button role="menuitem" onClick={() => print()}>{t("kept.print")}</button>
          </CeilingsMenu>
        )}
      </div>
      <section class="sheet stack no-print" aria-label={t("ceilings.choice")}>
        <div class="row" role="group" aria-label={t("ceilings.dryers")}>
          <span class="small quiet">{t("ceilings.dryers")}</span>
          {[...(dryers.value ?? []).map((one) => one.name), ...builtInDryers.value.map((one) => one.key)].map((name) => {
            const on = names.includes(name);
            return (
              <button key={name} class="chip" aria-pressed={on} disabled={!on && names.length >= most} onClick={() => adjust({ dryers: (on ? names.filter((one) => one !== name) : [...names, name]).join(",") })}>
                {name}
              </button>
            );
          })}
        </div>
        <div class="row">
          <input type="search" style={{ width: "160px" }} aria-label={t("ceilings.find")} placeholder={t("ceilings.find")} value={find} onInput={(event) => adjust({ find: event.currentTarget.value })} />
          <div class="segments" role="group" aria-label={t("ceilings.order")}>
            {(["name", "ceiling"] as const).map((one) => <button key={one} aria-pressed={order === one} onClick={() => adjust({ order: one === "name" ? "" : one })}>{t(`ceilings.by.${one}`)}</button>)}
          </div>
          <div style={{ width: "230px" }} class="row add-solvent">
            <span class="small quiet">{t("ceilings.add")}</span>
            <div style={{ flex: 1 }}><Combo label={t("ceilings.add")} value="" options={add} onValue={(key) => key !== "" && adjust({ also: [...new Set([...split(place.value.query.also), key])].join(",") })} /></div>
          </div>
        </div>
      </section>
      <svg class="only-read" aria-hidden="true"><StripPatterns /></svg>
      <Legend mine={mine !== undefined} />
      <div class="sheet">
        <div class="scroll" tabIndex={0} role="group" aria-label={t("ceilings.title")}>
          <table class={columns.length === 1 ? "ceilings one" : "ceilings"} style={{ minWidth: columns.length > 2 ? `${140 + columns.length * 250}px` : undefined }}>
            <thead>
              <tr>
                <th scope="col">{t("ceilings.solvent")}</th>
                {columns.map((column) => <th scope="col" key={column.name}><Head of={column} also={also} /></th>)}
              </tr>
            </thead>
            <tbody>
              {rows.map((key) => (
                <tr key={key} class={key === solvent ? "mine" : undefined}>
                  <th scope="row">
                    {spaced(key)}
                    {key === solvent && mine !== undefined && <p class="small">{t("ceilings.mine", { percent: number(mine) })}</p>}
                    <Caution of={answers.map((one) => of(one, key)).find((one) => one !== null) ?? null} />
                  </th>
                  {answers.map((answer, i) => {
                    const ceiling = of(answer, key);
                    return <td key={columns[i]!.name}>{ceiling !== null && <Cell of={ceiling} dryer={columns[i]!.name} mine={key === solvent ? mine : undefined} several={columns.length > 1} />}</td>;
                  })}
                </tr>
              ))}
            </tbody>
          </table>
        </div>
        {rows.length === 0 && full.length > 0 && <p class="quiet">{t("ceilings.none_found")}</p>}
        {names.length === 0 && <p class="quiet">{t("ceilings.choose")}</p>}
      </div>
      <section class="caution small" aria-label={t("caution.title")}>
        <p>{t("caution.always")}</p>
      </section>
      <p class="small faint">{t("ceilings.reads")}</p>
    </div>
  );
}
export default Page;

/** The dryer of a column: what it is, the load its ceilings are for, how far the work is. */
function Head({ of, also }: { of: DryerCeilings; also: string[] }) {
  const answer = of.answer.value;
  const progress = of.work.progress.value;
  const own = dryers.value?.some((one) => one.name === of.name) ?? false;
  return (
    <div class="column-head">
      <span>{own ? <a href={address(["dryer", of.name])}>{of.name}</a> : of.name}</span>
      {answer !== null && (
        <>
          <span class="small quiet">{answer.dryer}: {t("ceilings.trap", { temperature: show(answer.trap_no_load_C, "temperature"), capacity: number(answer.trap_capacity_kg, 2), pump: textOf(`pump.${answer.pump}`, answer.pump.replace(/_/g, " ")) })}</span>
          <span class="small quiet">{t("ceilings.load")} {loadText(answer)}</span>
          <svg class="scale" height="14" width="100%" aria-hidden="true">
            {[0, 20, 40, 60, 80, 100].map((x) => <text key={x} x={`${x}%`} y="11" text-anchor={x === 0 ? "start" : x === 100 ? "end" : "middle"}>{x === 100 ? "100 %" : x}</text>)}
          </svg>
        </>
      )}
      {progress !== null && (
        <span class="row no-print" role="status">
          <Far label={t("ceilings.working", { dryer: of.name })} now={progress} />
          <button onClick={() => of.hold()}>{t("ceilings.stop")}</button>
        </span>
      )}
      {of.work.problem.value !== "" && <span class="small note alarm" role="alert">{of.work.problem.value}</span>}
      {progress === null && (of.held.value || of.work.problem.value !== "") && <span class="no-print"><button onClick={() => of.again(also)}>{t("ceilings.again")}</button></span>}
    </div>
  );
}

function Cell({ of, dryer, mine, several }: { of: Ceiling; dryer: string; mine: number | undefined; several: boolean }) {
  return (
    <div class="ceiling">
      {several && <span class="small quiet narrow-only">{dryer}</span>}
      <Strip of={of} title={stripTitle(dryer, of)} mine={mine} />
      <p class="small"><b>{t("standing.rigid")}</b> <span class="number">{upTo(of.rigid_from_percent_v_v, of.rigid_up_to_percent_v_v, of.rigid_sigma_percent_v_v)}</span><span class="quiet">{then(of.rigid_up_to_percent_v_v, of.rigid_binds)}</span></p>
      <p class="small"><b>{t("standing.wetted")}</b> <span class="number">{upTo(of.wetted_from_percent_v_v, of.wetted_up_to_percent_v_v, of.wetted_sigma_percent_v_v)}</span><span class="quiet">{then(of.wetted_up_to_percent_v_v, of.wetted_binds)}</span></p>
      <p class="small faint">{textOf(`grade.${of.grade}`, of.grade)}</p>
    </div>
  );
}

const then = (to: number | null, binds: Ceiling["rigid_binds"]) =>
  binds === "none" ? "" : t(to === null ? "ceilings.why" : "ceilings.then", { cause: textOf(`cause.${binds}`, spaced(binds)) });

function Caution({ of }: { of: Ceiling | null }) {
  if (of === null || of.caution === "") return null;
  return (
    <details class="small no-print">
      <summary>{t("ceilings.caution")}<span class="only-read"> {spaced(of.solvent)}</span></summary>
      <p class="caution">{of.caution}</p>
    </details>
  );
}

function Legend({ mine }: { mine: boolean }) {
  return (
    <div class="row small quiet legend-row">
      {(["rigid", "wetted"] as const).map((one) => <span key={one} class="row tight"><span class="standing"><Swatch standing={one} /></span>{t(`standing.${one}`)}: {t(`standing.${one}.meaning`)}</span>)}
      <span class="row tight"><svg width="34" height="16" aria-hidden="true"><rect x="0.5" y="0.5" width="33" height="15" fill="var(--sheet)" stroke="var(--rule-2)" /></svg>{t("ceilings.neither")}</span>
      <span class="row tight"><svg width="34" height="16" aria-hidden="true"><path d="M4 8h26" stroke="var(--ink)" stroke-width="2" /></svg>{t("ceilings.sigma")}</span>
      {mine && <span class="row tight"><svg width="14" height="16" aria-hidden="true"><path d="M7 2v14M2 1h10l-5 6z" stroke="var(--ink)" stroke-width="2" fill="var(--ink)" /></svg>{t("ceilings.marker")}</span>}
    </div>
  );
}
