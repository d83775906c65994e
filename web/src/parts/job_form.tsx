/* The form of a job: what is dried, in what, how it is frozen, on which dryer, by which recipe. */
import { useContext, useId } from "preact/hooks";
import { useSignal } from "@preact/signals";
import { type Basis, formatComposition, parseComposition } from "../store/composition";
import { address } from "../store/place";
import { Yaml } from "../store/yaml";
import { builtInDryers, containers, dryers, solutes, substances } from "../store/workspace";
import { t, textOf } from "../text/text";
import { DescribedFields, DescribedInput } from "./described_form";
import { ChoiceField, Combo, FormContext, Labelled, NumberField, PathFault, QuantityField, QuantityInput, TextField, useFault } from "./fields";
import { range, RemoveButton, Section } from "./section";

const purposes = ["intermediate", "screening", "archive", "release"] as const;
const means = ["freezer", "dry_ice_bath", "liquid_nitrogen", "shelf"] as const;
const bases: Basis[] = ["%v/v", "%w/w", "mol%"];

function Mixture() {
  const { yaml, edit } = useContext(FormContext);
  const path = ["sample", "composition"] as const;
  const text = yaml.at(path);
  const asText = useSignal(false);
  const wrong = useFault(path);
  const id = useId();
  const parsed = parseComposition(text);
  const options = substances.value
    .filter((one) => one.has_vapour)
    .map((one) => ({ value: one.key.replace(/_/g, " "), text: one.name, also: [...one.aliases, one.formula].join(", ") }));
  const write = (parts: { name: string; amount: string }[], basis: Basis, field = "") =>
    edit(yaml.with(path, formatComposition({ parts, basis })), field);
  if (asText.value || parsed === null) {
    return (
      <div class="stack">
        <TextField path={path} label={t("form.composition")} hint={t("form.composition.hint")} long />
        {parsed !== null && <button class="plain" type="button" onClick={() => (asText.value = false)}>{t("form.as_rows")}</button>}
      </div>
    );
  }
  const { parts, basis } = parsed;
  const replace = (i: number, change: Partial<{ name: string; amount: string }>, field: string) =>
    write(parts.map((part, k) => (k === i ? { ...part, ...change } : part)), basis, field);
  return (
    <div class="stack" role="group" aria-labelledby={id}>
      <span class="only-read" id={id}>{t("form.composition")}</span>
      {parts.map((part, i) => (
        <div class="mixture-row" key={i}>
          <Combo label={t("form.substance", { number: i + 1 })} value={part.name} options={options} invalid={wrong !== null} onValue={(name) => replace(i, { name }, "")} />
          <input
            type="text"
            inputMode="decimal"
            autocomplete="off"
            aria-label={t("form.amount_of", { substance: part.name || String(i + 1) })}
            placeholder={t("form.rest")}
            value={part.amount}
            onInput={(event) => replace(i, { amount: event.currentTarget.value.replace(",", ".").replace(/[^\d.]/g, "") }, `composition ${i}`)}
          />
          <RemoveButton what={part.name || String(i + 1)} onClick={() => write(parts.filter((_, k) => k !== i), basis)} />
        </div>
      ))}
      {wrong !== null && <span class="wrong" role="alert">{wrong}</span>}
      <div class="row between">
        <div class="row">
          <button
            type="button"
            disabled={parts.length >= 10}
            onClick={() => {
              const free = ["acetonitrile", "tert-butanol", "methanol", "ethanol"].find((name) => !parts.some((part) => part.name === name)) ?? "acetone";
              const rest = parts.findIndex((part) => part.amount === "");
              const at = rest < 0 ? parts.length : rest;
              write([...parts.slice(0, at), { name: parts.some((part) => part.name === "water") ? free : "water", amount: rest < 0 && parts.length > 0 ? "" : "1" }, ...parts.slice(at)], basis);
            }}
          >
            {t("form.add_substance")}
          </button>
          <select aria-label={t("form.basis")} value={basis} style={{ width: "auto" }} onChange={(event) => write(parts, event.currentTarget.value as Basis)}>
            {bases.map((one) => <option key={one} value={one}>{textOf(`basis.${one}`, one)}</option>)}
          </select>
        </div>
        <button class="plain" type="button" onClick={() => (asText.value = true)}>{t("form.as_text")}</button>
      </div>
    </div>
  );
}

function Solutes() {
  const { yaml, edit } = useContext(FormContext);
  const list = ["sample", "solutes"] as const;
  const count = yaml.length(list);
  const options = solutes.value.map((one) => ({ value: one.key, text: one.name, also: one.critical_kind }));
  return (
    <Section
      title={t("form.solutes")}
      action={<button type="button" class="plain" disabled={count >= 6} onClick={() => edit(yaml.withEntry(list, { name: "small_molecule", concentration: "5 g/L" }), "")}>{t("form.add")}</button>}
    >
      {count === 0 && <p class="faint small">{t("form.solutes.none")}</p>}
      {Array.from({ length: count }, (_, i) => (
        <div class="group-row" key={i} role="group" aria-label={t("form.solute", { number: i + 1 })}>
          <div class="row between">
            <div style={{ flex: 1, minWidth: 0 }}>
              <SoluteName index={i} options={options} />
            </div>
            <RemoveButton what={yaml.at([...list, i, "name"])} onClick={() => edit(yaml.withOrder(list, range(count).filter((k) => k !== i)), "")} />
          </div>
          <div class="fields">
            <QuantityField path={[...list, i, "concentration"]} label={t("form.concentration")} unit="concentration" />
            <QuantityField path={[...list, i, "critical_temperature"]} label={t("form.critical")} unit="temperature" otherwise={criticalOf(yaml.at([...list, i, "name"]))} />
          </div>
        </div>
      ))}
    </Section>
  );
}

function criticalOf(name: string): string {
  const known = solutes.value.find((one) => one.key === name)?.critical_temperature_C;
  return known === null || known === undefined ? "" : `${known} °C`;
}

function SoluteName({ index, options }: { index: number; options: { value: string; text: string; also?: string }[] }) {
  const { yaml, edit } = useContext(FormContext);
  const path = ["sample", "solutes", index, "name"];
  const id = useId();
  const wrong = useFault(path);
  return (
    <Labelled id={id} label={t("form.name")} wrong={wrong}>
      <Combo id={id} value={yaml.at(path)} options={options} invalid={wrong !== null} onValue={(value) => edit(yaml.with(path, value), "")} />
    </Labelled>
  );
}

function Containers() {
  const { yaml, edit } = useContext(FormContext);
  const list = ["containers"];
  const count = yaml.length(list);
  const kinds = containers.value.map((one) => [one.key, `${one.key.replace(/_/g, " ")}: ${one.name}`] as const);
  return (
    <Section
      title={t("form.containers")}
      action={<button type="button" class="plain" disabled={count >= 8} onClick={() => edit(yaml.withEntry(list, { type: "vial_10R", count: "10", fill: "3 mL", place: "shelf" }), "")}>{t("form.add")}</button>}
    >
      {range(count).map((i) => {
        const at = (field: string) => [...list, i, field];
        const place = yaml.at(at("place"));
        const kind = containers.value.find((one) => one.key === yaml.at(at("type")))?.kind ?? "";
        return (
          <div class="group-row" key={i} role="group" aria-label={t("form.container", { number: i + 1 })}>
            <div class="row between">
              <div style={{ flex: 1, minWidth: 0 }}>
                <ChoiceField path={at("type")} label={t("form.type")} choices={kinds} />
              </div>
              {count > 1 && <RemoveButton what={yaml.at(at("type"))} onClick={() => edit(yaml.withOrder(list, range(count).filter((k) => k !== i)), "")} />}
            </div>
            <div class="fields">
              <NumberField path={at("count")} label={t("form.count")} />
              <QuantityField path={at("fill")} label={t("form.fill")} unit="volume" />
              <ChoiceField path={at("place")} label={t("form.place")} choices={[["shelf", t("form.place.shelf")], ["manifold", t("form.place.manifold")]]} />
              {(kind === "flask" || (kind === "tube" && place === "manifold") || yaml.has(at("lie"))) && (
                <ChoiceField path={at("lie")} label={t("form.lie")} otherwise={t("form.lie.at_rest")} choices={[["shell", t("form.lie.shell")]]} />
              )}
            </div>
            {place === "shelf" && (
              <details>
                <summary>{t("form.spots")}</summary>
                <div class="fields">
                  <NumberField path={at("edge")} label={t("form.edge")} otherwise="0" />
                  <NumberField path={at("corner")} label={t("form.corner")} otherwise="0" />
                  <NumberField path={at("door")} label={t("form.door")} otherwise="0" />
                </div>
              </details>
            )}
            {place === "manifold" && (
              <details>
                <summary>{t("form.on_off")}</summary>
                <div class="fields">
                  <QuantityField path={at("on")} label={t("form.on")} unit="time" otherwise="0 h" />
                  <QuantityField path={at("off")} label={t("form.off")} unit="time" />
                </div>
              </details>
            )}
          </div>
        );
      })}
    </Section>
  );
}

/** Set points as rows: time, shelf temperature, chamber pressure. */
export function RecipeRows({ path = ["recipe"] }: { path?: string[] }) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const count = yaml.length(path);
  const fault = useFault(path);
  const add = () => {
    const last = count - 1;
    const entry: Record<string, string> = { time: count === 0 ? "0 h" : later(yaml.at([...path, last, "time"])) };
    entry.shelf_temperature = count === 0 ? "-40 °C" : yaml.at([...path, last, "shelf_temperature"]) || "-20 °C";
    edit(yaml.withEntry(path, entry), "");
  };
  return (
    <div class="points" role="group" aria-label={t("form.recipe")}>
      {count > 0 && (
        <div class="point small faint" aria-hidden="true">
          <span>{t("form.time")}</span>
          <span>{t("form.shelf")}</span>
          <span>{t("form.pressure")}</span>
          <span />
        </div>
      )}
      {range(count).map((i) => (
        <div class="point" key={i}>
          <Cell path={[...path, i, "time"]} unit="time" label={t("form.time_of", { number: i + 1 })} otherwise={i === 0 ? "0 h" : ""} />
          <Cell path={[...path, i, "shelf_temperature"]} unit="temperature" label={t("form.shelf_of", { number: i + 1 })} />
          <Cell path={[...path, i, "chamber_pressure"]} unit="pressure" label={t("form.pressure_of", { number: i + 1 })} otherwise={t("form.lowest")} />
          {!fixed && <RemoveButton what={t("form.set_point", { number: i + 1 })} onClick={() => edit(yaml.withOrder(path, range(count).filter((k) => k !== i)), "")} />}
          <PathFault path={[...path, i]} />
        </div>
      ))}
      {fault !== null && <span class="wrong" role="alert">{fault}</span>}
      {!fixed && <div><button type="button" disabled={count >= 96} onClick={add}>{t("form.add_set_point")}</button></div>}
    </div>
  );
}

/* Ten hours after what stands there, in its unit: where the next set point begins until the user says otherwise. */
function later(time: string): string {
  const match = /^\s*([\d.]+)\s*(\S+)/.exec(time);
  if (match === null) return "10 h";
  const step = { h: 10, min: 600, d: 1, s: 36000 }[match[2]!];
  return step === undefined ? "10 h" : `${Number(match[1]) + step} ${match[2]}`;
}

function Cell({ path, unit, label, otherwise }: { path: (string | number)[]; unit: "time" | "temperature" | "pressure"; label: string; otherwise?: string }) {
  const { yaml, edit } = useContext(FormContext);
  const wrong = useFault(path);
  const id = useId();
  return (
    <div>
      <QuantityInput label={label} value={yaml.at(path)} unit={unit} otherwise={otherwise} invalid={wrong !== null} describedBy={wrong === null ? undefined : id} onValue={(value) => edit(yaml.with(path, value), path.join("."))} />
      {wrong !== null && <span class="wrong small" id={id} role="alert">{wrong}</span>}
    </div>
  );
}

export function JobForm() {
  const { yaml, edit, fault } = useContext(FormContext);
  const dryer = yaml.at(["dryer"]);
  const offered = [
    ...(dryers.value ?? []).map((one) => [one.name, one.name] as const),
    ...builtInDryers.value.map((one) => [one.key, `${one.key}: ${one.name}`] as const),
  ];
  const onShelf = range(yaml.length(["containers"])).some((i) => yaml.at(["containers", i, "place"]) === "shelf");
  const free = fault !== null && fault.field === null && fault.line === null;
  return (
    <form class="stack" onSubmit={(event) => event.preventDefault()} aria-label={t("form.job")}>
      {free && <p class="note alarm" role="alert">{fault.message}</p>}
      <Section title={t("form.sample")}>
        <TextField path={["job"]} label={t("form.job_name")} />
        <Mixture />
        <ChoiceField path={["purpose"]} label={t("form.purpose")} choices={purposes.map((one) => [one, t(`purpose.${one}`)] as const)} hint={t("form.purpose.hint")} />
      </Section>
      <Solutes />
      <Containers />
      <Section title={t("form.freezing")}>
        <div class="fields">
          <ChoiceField path={["freezing", "means"]} label={t("form.means")} choices={means.map((one) => [one, t(`means.${one}`)] as const)} onPick={(value) => edit(new Yaml(yaml.with(["freezing", "means"], value)).with(["freezing", "temperature"], ""), "")} />
          <QuantityField path={["freezing", "temperature"]} label={t("form.temperature")} unit="temperature" otherwise={usualTemperature[yaml.at(["freezing", "means"])]} />
        </div>
        {yaml.at(["freezing", "means"]) === "liquid_nitrogen" && <p class="caution small">{t("caution.nitrogen")}</p>}
        {yaml.at(["freezing", "means"]) === "dry_ice_bath" && <p class="caution small">{t("caution.dry_ice")}</p>}
      </Section>
      <Section
        title={t("form.dryer")}
        action={(dryers.value ?? []).some((one) => one.name === dryer) ? <a class="small" href={address(["dryer", dryer])}>{t("form.dryer.open")}</a> : undefined}
      >
        <ChoiceField path={["dryer"]} label={t("form.dryer")} choices={offered} />
      </Section>
      {(onShelf || yaml.length(["recipe"]) > 0) && (
        <Section title={t("form.recipe")}>
          <RecipeRows />
        </Section>
      )}
      <Events />
      <Section title={t("form.limits")}>
        <div class="fields">
          <QuantityField path={["limits", "margin"]} label={t("form.margin")} unit="temperature difference" otherwise="1 K" />
          <QuantityField path={["limits", "time"]} label={t("form.time_limit")} unit="time" otherwise="14 d" />
          <QuantityField path={["limits", "product_temperature"]} label={t("form.product_limit")} unit="temperature" />
        </div>
        <details open={yaml.has(["residual"])}>
          <summary>{t("form.residual")}</summary>
          <div class="fields">
            {["water", ...(parseComposition(yaml.at(["sample", "composition"]))?.parts ?? []).map((part) => part.name).filter((name) => name !== "water")].map((name) => (
              <QuantityField key={name} path={["residual", residualKey(name, yaml.keys(["residual"]))]} label={name} unit="share" />
            ))}
          </div>
        </details>
        <details open={yaml.has(["cake"])}>
          <summary>{t("form.cake")}</summary>
          <p class="hint small faint">{t("form.cake.hint")}</p>
          <div class="fields">
            <QuantityField path={["cake", "r0"]} label="r0" unit="resistance" />
            <QuantityField path={["cake", "a1"]} label="a1" unit="resistance over length" />
            <QuantityField path={["cake", "a2"]} label="a2" unit="inverse length" otherwise="0 1/m" />
          </div>
        </details>
        <More />
      </Section>
    </form>
  );
}

const events = ["power_cut", "defrost", "vacuum_break", "refill"] as const;

/** What happens on the way: rows of event, time and length. */
function Events() {
  const { yaml, edit } = useContext(FormContext);
  const list = ["events"];
  const count = yaml.length(list);
  return (
    <Section title={t("form.events")} action={<button type="button" class="plain" disabled={count >= 16} onClick={() => edit(yaml.withEntry(list, { event: "power_cut", time: "5 h", length: "20 min" }), "")}>{t("form.add")}</button>}>
      {range(count).map((i) => {
        const at = (field: string) => [...list, i, field];
        const event = yaml.at(at("event"));
        return (
          <div class="group-row" key={i} role="group" aria-label={t("form.event", { number: i + 1 })}>
            <div class="row between">
              <div style={{ flex: 1, minWidth: 0 }}>
                <ChoiceField path={at("event")} label={t("form.event_kind")} choices={events.map((one) => [one, t(`event.${one}`)] as const)} />
              </div>
              <RemoveButton what={t("form.event", { number: i + 1 })} onClick={() => edit(yaml.withOrder(list, range(count).filter((k) => k !== i)), "")} />
            </div>
            <div class="fields">
              <QuantityField path={at("time")} label={t("form.event_time")} unit="time" />
              {event !== "refill" && <QuantityField path={at("length")} label={t("form.event_length")} unit="time" />}
              {(event === "defrost" || event === "refill") && <ChoiceField path={at("trap")} label={t("trap.trap")} otherwise="1" choices={[["2", "2"]]} />}
            </div>
          </div>
        );
      })}
    </Section>
  );
}

/** What few jobs state: drawn from the parsers' own description. */
function More() {
  const { described, yaml } = useContext(FormContext);
  if (!described) return null;
  return (
    <>
      <details open={yaml.has(["model"]) || yaml.has(["sample", "crystallises"]) || yaml.has(["sample", "stays_liquid"])}>
        <summary>{t("form.model")}</summary>
        <div class="stack">
          <DescribedInput path={["loading"]} />
          <DescribedInput path={["sample", "crystallises"]} />
          <DescribedInput path={["sample", "stays_liquid"]} />
          <DescribedFields under={["model"]} />
        </div>
      </details>
      <details open={yaml.has(["uncertainty"])}>
        <summary>{t("form.uncertainty")}</summary>
        <DescribedFields under={["uncertainty"]} />
      </details>
    </>
  );
}

/* What freezing means stand at where nothing is stated; docs/job.md. */
const usualTemperature: Record<string, string> = { freezer: "-20 °C", dry_ice_bath: "-75 °C", liquid_nitrogen: "-195.8 °C", shelf: "-45 °C" };

function residualKey(name: string, present: string[]): string {
  return present.find((key) => key.replace(/_/g, " ") === name.replace(/_/g, " ")) ?? name;
}
