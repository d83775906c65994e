/* What a dryer means: up to which share it takes a few solvents, asked for by a button and then followed as one edits. */
import { useSignal } from "@preact/signals";
import { useEffect, useMemo } from "preact/hooks";
import type { CeilingsOne } from "../api/types";
import { adjust, place } from "../store/place";
import { Work } from "../store/work";
import { substances } from "../store/workspace";
import { t, textOf } from "../text/text";
import { type Ceiling, Strip, StripPatterns, stripTitle, upTo } from "./ceiling_strip";
import { CeilingsMenu } from "./ceilings_file";
import { Combo } from "./fields";

const usual = ["acetonitrile", "methanol", "tert-butanol"];
const restBeforeAsking = 800; // ms

/** `text` the file as it stands, `sound` the newest that can be used; a built-in dryer is asked for by its name alone. */
export function DryerCeilings({ name, own, text, sound }: { name: string; own: boolean; text: string; sound: string }) {
  const work = useMemo(() => new Work<CeilingsOne>(), [name]);
  const before = useSignal<CeilingsOne | null>(null);
  const asked = useSignal(false);
  useEffect(() => () => work.stop(), [work]);
  const solvents = (place.value.query.solvents?.split(",") ?? usual).slice(0, 3);
  const key = `${solvents.join()} ${sound}`;
  const ask = () => {
    asked.value = true;
    if (work.answer.value !== null && work.of.value !== key) before.value = work.answer.value;
    void work.ask("ceilings", { dryer: name, ...(own ? { dryers: { [name]: sound } } : {}), solvent: solvents }, key);
  };
  useEffect(() => {
    if (!asked.value || sound === "" || work.of.value === key) return;
    const wait = setTimeout(ask, restBeforeAsking);
    return () => clearTimeout(wait);
  }, [key]);
  const offered = substances.value.filter((one) => one.has_vapour && one.key !== "water").map((one) => ({ value: one.key, text: one.name, also: one.aliases.join(", ") }));
  const answer = work.answer.value;
  const stale = work.of.value !== key || sound !== text;
  return (
    <section class="sheet stack" aria-label={t("dryer.ceilings")}>
      <h2>{t("dryer.means")}</h2>
      <p class="small quiet">{t("dryer.means.hint")}</p>
      <div class="fields no-print">
        {[0, 1, 2].map((i) => (
          <Combo
            key={i}
            label={t("form.substance", { number: i + 1 })}
            value={offered.find((one) => one.value === solvents[i])?.text ?? solvents[i] ?? ""}
            options={offered}
            onValue={(value) => {
              const picked = offered.find((one) => one.value === value || one.text === value)?.value ?? value;
              adjust({ solvents: [0, 1, 2].map((k) => (k === i ? picked : (solvents[k] ?? ""))).filter((one) => one !== "").join(",") });
            }}
          />
        ))}
      </div>
      <div class="row no-print">
        <button class="main" disabled={sound === "" || work.progress.value !== null} onClick={ask}>{t(answer === null ? "dryer.ask" : "dryer.ask_again")}</button>
        <span class="small quiet" role="status">{work.progress.value !== null ? t("dryer.asking") : answer !== null && stale ? t("dryer.of_before") : ""}</span>
      </div>
      {work.problem.value !== "" && <p class="note alarm" role="alert">{work.problem.value}</p>}
      {answer !== null && (
        <div class={stale ? "stack stale" : "stack"} aria-live="polite">
          <div class="row between">
            <h3>{t("ceilings.title")}</h3>
            <CeilingsMenu of={[{ name, answer }]} solvents={answer.ceilings.map((one) => one.solvent)} />
          </div>
          <svg width="0" height="0" aria-hidden="true" style={{ position: "absolute" }}><StripPatterns /></svg>
          {answer.ceilings.map((one) => <Solvent key={one.solvent} of={one} dryer={name} before={before.value?.ceilings.find((old) => old.solvent === one.solvent)} />)}
          <p class="small faint">{t("dryer.means.load", { count: answer.reference_load.count, container: answer.reference_load.container.replace(/_/g, " "), fill: `${Number(answer.reference_load.fill_mL.toPrecision(4))} mL` })}</p>
          {answer.ceilings.map((one) => one.caution !== "" && <p key={one.solvent} class="caution small">{one.caution}</p>)}
        </div>
      )}
    </section>
  );
}

function Solvent({ of, dryer, before }: { of: Ceiling; dryer: string; before: Ceiling | undefined }) {
  return (
    <div class="stack solvent-ceiling" role="group" aria-label={of.solvent.replace(/_/g, " ")}>
      <h3>{of.solvent.replace(/_/g, " ")} <span class="faint small" style={{ fontWeight: 400 }}>{textOf(`grade.${of.grade}`, of.grade)}</span></h3>
      <Strip of={of} title={stripTitle(dryer, of)} />
      <Words standing="rigid" of={of} before={before} />
      <Words standing="wetted" of={of} before={before} />
    </div>
  );
}

function Words({ standing, of, before }: { standing: "rigid" | "wetted"; of: Ceiling; before: Ceiling | undefined }) {
  const [to, binds] = standing === "rigid" ? ([of.rigid_up_to_percent_v_v, of.rigid_binds] as const) : ([of.wetted_up_to_percent_v_v, of.wetted_binds] as const);
  const said = inWords(of, standing);
  const was = before === undefined ? said : inWords(before, standing);
  return (
    <p class="small">
      <b>{t(`standing.${standing}`)}</b> <span class="number">{said}</span>
      <span class="quiet">{binds === "none" ? "" : t(to === null ? "ceilings.why" : "ceilings.then", { cause: textOf(`cause.${binds}`, binds.replace(/_/g, " ")) })}</span>
      {was !== said && <strong class="was"> {t("dryer.was", { what: was })}</strong>}
    </p>
  );
}

function inWords(of: Ceiling, standing: "rigid" | "wetted"): string {
  return standing === "rigid"
    ? upTo(of.rigid_from_percent_v_v, of.rigid_up_to_percent_v_v, of.rigid_sigma_percent_v_v)
    : upTo(of.wetted_from_percent_v_v, of.wetted_up_to_percent_v_v, of.wetted_sigma_percent_v_v);
}
