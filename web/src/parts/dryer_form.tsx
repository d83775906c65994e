/* The form of a dryer: its chamber, traps, pump, shelves and ports, the load its ceilings are for, how its logs are laid out. */
import type { ComponentChildren } from "preact";
import { useContext, useId } from "preact/hooks";
import { containers } from "../store/workspace";
import { type Path, Yaml } from "../store/yaml";
import { t, textOf, type TextKey } from "../text/text";
import { DescribedFields, DescribedInput, labelOf } from "./described_form";
import { CurveDrawing } from "./drawing";
import { amountOf, ChoiceField, type FieldUnit, FormContext, meaningOf, PathFault, pathText, QuantityInput, TextField, useFault } from "./fields";
import { RecipeRows } from "./job_form";
import { range, RemoveButton, Section } from "./section";

/* A section that a dryer may lack: added as a sound beginning, removed as a whole. */
function OptionalSection({ title, path, fresh, none, children }: { title: string; path: Path; fresh: object; none: string; children: ComponentChildren }) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const there = yaml.has(path);
  return (
    <Section
      title={title}
      path={path}
      action={!fixed && (there ? <button type="button" class="plain" onClick={() => edit(yaml.with(path, ""), "")}>{t("dryer.take_away")}</button> : <button type="button" class="plain" onClick={() => edit(yaml.with(path, fresh), "")}>{t("form.add")}</button>)}
    >
      {there ? children : <p class="faint small">{none}</p>}
    </Section>
  );
}

interface Column {
  field: string;
  unit: FieldUnit;
  label: TextKey;
}

/** Points of a curve as rows, in two columns. */
function CurveRows({ path, columns, next, most, least = 1 }: { path: Path; columns: readonly [Column, Column]; next: (last: [string, string] | null) => [string, string]; most: number; least?: number }) {
  const { yaml, edit, fixed, described } = useContext(FormContext);
  const count = yaml.length(path);
  const wrong = useFault(path);
  const last = count === 0 ? null : (columns.map(({ field }) => yaml.at([...path, count - 1, field])) as [string, string]);
  const add = () => {
    const [a, b] = next(last);
    edit(yaml.withEntry(path, { [columns[0].field]: a, [columns[1].field]: b }), "");
  };
  const meaning = meaningOf(described?.of(path));
  return (
    <div class="points" role="group" aria-label={labelOf(path)}>
      <div class="point two small faint" aria-hidden="true">
        {columns.map(({ label }) => <span key={label}>{t(label)}</span>)}
      </div>
      {range(count).map((i) => (
        <div class="point two" key={i}>
          {columns.map(({ field, unit, label }) => <PointCell key={field} path={[...path, i, field]} unit={unit} label={t("dryer.of_point", { what: t(label), number: i + 1 })} />)}
          {!fixed && (
            <RemoveButton what={t("dryer.point", { number: i + 1 })} disabled={count <= least} onClick={() => edit(yaml.withOrder(path, range(count).filter((k) => k !== i)), "")} />
          )}
          <PathFault path={[...path, i]} />
        </div>
      ))}
      {wrong !== null && <span class="wrong small" role="alert">{wrong}</span>}
      {!fixed && <div><button type="button" disabled={count >= most} onClick={add}>{t("dryer.add_point")}</button></div>}
      {meaning !== "" && <span class="hint faint small">{meaning}</span>}
    </div>
  );
}

function PointCell({ path, unit, label }: { path: Path; unit: FieldUnit; label: string }) {
  const { yaml, edit } = useContext(FormContext);
  const wrong = useFault(path);
  const id = useId();
  return (
    <div>
      <QuantityInput label={label} value={yaml.at(path)} unit={unit} invalid={wrong !== null} describedBy={wrong === null ? undefined : id} onValue={(value) => edit(yaml.with(path, value), pathText(path))} />
      {wrong !== null && <span class="wrong small" id={id} role="alert">{wrong}</span>}
    </div>
  );
}

/* The points of a curve that can be drawn. */
function pointsOf(yaml: Yaml, path: Path, x: Column, y: Column): [number, number][] {
  return range(yaml.length(path)).flatMap((i) => {
    const a = amountOf(yaml.at([...path, i, x.field]), x.unit);
    const b = amountOf(yaml.at([...path, i, y.field]), y.unit);
    return a === null || b === null ? [] : [[a, b] as [number, number]];
  });
}

/* A number of the same unit, further on: what a new point begins with. */
function stepped(text: string, by: (value: number) => number): string {
  const match = /^\s*([-−]?[\d.]+)\s*(.*)$/.exec(text);
  return match === null ? text : `${Number(by(Number(match[1]!.replace("−", "-"))).toPrecision(6))} ${match[2]}`;
}

const coldness = [
  { field: "temperature", unit: "temperature", label: "form.temperature" },
  { field: "power", unit: "power", label: "dryer.power_there" },
] as const;
const speed = [
  { field: "pressure", unit: "pressure", label: "dryer.inlet_pressure" },
  { field: "flow", unit: "volume flow", label: "dryer.flow_there" },
] as const;

const freshCurve = [{ temperature: "-55 °C", power: "0 W" }, { temperature: "-30 °C", power: "900 W" }];
const fingerFields = ["coolant", "charge", "loss"];

function Trap({ at }: { at: "trap" | "second_trap" }) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const finger = yaml.has([at, "coolant"]);
  const curve = [at, "refrigeration"];
  const coolant = yaml.at([at, "coolant"]);
  const toFinger = () => {
    let next = new Yaml(yaml.with([at, "coolant"], "liquid_nitrogen"));
    if (!next.has([at, "charge"])) next = new Yaml(next.with([at, "charge"], "5 kg"));
    if (!next.has([at, "loss"])) next = new Yaml(next.with([at, "loss"], "10 W"));
    edit(next.with(curve, ""), "");
  };
  const toCoil = () => {
    let next = new Yaml(yaml.with(curve, freshCurve));
    for (const field of fingerFields) next = new Yaml(next.with([at, field], ""));
    edit(next.text, "");
  };
  const points = pointsOf(yaml, curve, ...coldness);
  const wrong = useFault(curve);
  return (
    <>
      {!fixed && (
        <div class="segments" role="group" aria-label={t("dryer.cooled_by")}>
          <button type="button" aria-pressed={!finger} onClick={() => finger && toCoil()}>{t("dryer.coil")}</button>
          <button type="button" aria-pressed={finger} onClick={() => finger || toFinger()}>{t("dryer.finger")}</button>
        </div>
      )}
      {finger ? (
        <>
          <div class="fields">{fingerFields.map((field) => <DescribedInput key={field} path={[at, field]} />)}</div>
          <p class="caution small">{t(coolant === "dry_ice" ? "dryer.caution.dry_ice" : "dryer.caution.nitrogen")}</p>
        </>
      ) : yaml.has(curve) ? (
        <div class="beside">
          <CurveRows
            path={curve}
            columns={coldness}
            most={12}
            least={2}
            next={(last) => (last === null ? ["-55 °C", "0 W"] : [stepped(last[0], (v) => v + 5), stepped(last[1], (v) => v + 100)])}
          />
          {points.length > 0 && <CurveDrawing name={`dryfront-${at}`} title={t("dryer.coldness")} x={{ label: t("dryer.coil_temperature"), quantity: "temperature" }} y={{ label: t("dryer.removed"), quantity: "none", unit: "W" }} points={points} />}
        </div>
      ) : (
        <div>
          {wrong !== null && <p class="wrong small" role="alert">{wrong}</p>}
          <button type="button" onClick={() => edit(yaml.with(curve, freshCurve), "")}>{t("dryer.add_curve")}</button>
        </div>
      )}
      {!finger && <div class="fields">{["charge", "loss"].filter((field) => yaml.has([at, field])).map((field) => <DescribedInput key={field} path={[at, field]} />)}</div>}
      {finger && <PathFault path={curve} />}
      <PathFault path={[at, "link"]} />
      <DescribedFields under={[at]} without={["refrigeration", "link", ...fingerFields]} />
      {at === "second_trap" && (
        <div role="group" aria-label={t("dryer.link")} class="stack">
          <h3>{t("dryer.link")}</h3>
          <DescribedFields under={[at, "link"]} />
        </div>
      )}
    </>
  );
}

const ofOil = ["solvent_limit", "oil", "oil_temperature", "ballast"];
const kinds = ["oil_sealed", "dry", "scroll", "diaphragm"] as const;

function Pump() {
  const { yaml, edit, fixed } = useContext(FormContext);
  const curve = ["pump", "speed"];
  const nominal = !yaml.has(curve);
  const oily = yaml.at(["pump", "kind"]) === "oil_sealed";
  const pick = (kind: string) => {
    let next = new Yaml(yaml.with(["pump", "kind"], kind));
    if (kind !== "oil_sealed") for (const field of ofOil) next = new Yaml(next.with(["pump", field], ""));
    edit(next.text, "");
  };
  const toNominal = () => {
    const best = yaml.at([...curve, 0, "flow"]) || "5 m3/h";
    edit(new Yaml(yaml.with(["pump", "nominal_speed"], best)).with(curve, ""), "");
  };
  const toCurve = () => {
    const flow = yaml.at(["pump", "nominal_speed"]) || "5 m3/h";
    edit(new Yaml(yaml.with(curve, [{ pressure: "0.01 mbar", flow }, { pressure: "1000 mbar", flow }])).with(["pump", "nominal_speed"], ""), "");
  };
  const points = pointsOf(yaml, curve, ...speed);
  return (
    <>
      <div class="fields">
        <ChoiceField path={["pump", "kind"]} label={t("dryer.kind")} choices={kinds.map((one) => [one, t(`pump.${one}`)] as const)} onPick={pick} />
        <DescribedInput path={["pump", "ultimate_pressure"]} />
        {(nominal || yaml.has(["pump", "nominal_speed"])) && <DescribedInput path={["pump", "nominal_speed"]} />}
        {ofOil.filter((field) => oily || yaml.has(["pump", field])).map((field) => <DescribedInput key={field} path={["pump", field]} />)}
        <DescribedInput path={["pump", "power"]} />
      </div>
      {!fixed && (
        <div class="segments" role="group" aria-label={t("dryer.speed")}>
          <button type="button" aria-pressed={!nominal} onClick={() => nominal && toCurve()}>{t("dryer.speed_curve")}</button>
          <button type="button" aria-pressed={nominal} onClick={() => nominal || toNominal()}>{t("dryer.speed_nominal")}</button>
        </div>
      )}
      {!nominal && (
        <div class="beside">
          <CurveRows path={curve} columns={speed} most={12} next={(last) => (last === null ? ["0.01 mbar", "5 m3/h"] : [stepped(last[0], (v) => v * 10), last[1]])} />
          {points.length > 0 && <CurveDrawing name="dryfront-pump" title={t("dryer.speed")} x={{ label: t("dryer.inlet"), quantity: "pressure", logarithmic: true }} y={{ label: t("dryer.pumped"), quantity: "none", unit: "m³/h" }} points={points} />}
        </div>
      )}
    </>
  );
}

function ReferenceLoad() {
  const { yaml, fixed } = useContext(FormContext);
  const at = (field: string) => ["reference_load", field];
  const offered = containers.value.map((one) => [one.key, `${one.key.replace(/_/g, " ")}: ${one.name}`] as const);
  const place = yaml.at(at("place"));
  return (
    <>
      <p class="faint small">{t("dryer.load.hint")}</p>
      <ChoiceField path={at("container")} label={labelOf("reference_load.container")} choices={offered} />
      <div class="fields">
        <DescribedInput path={at("count")} />
        <DescribedInput path={at("fill")} />
        <ChoiceField path={at("place")} label={t("form.place")} choices={[["shelf", t("form.place.shelf")], ["manifold", t("form.place.manifold")]]} />
        <ChoiceField path={at("lie")} label={t("form.lie")} otherwise={t("form.lie.at_rest")} choices={[["at_rest", t("form.lie.at_rest")], ["shell", t("form.lie.shell")]]} />
      </div>
      {(place !== "manifold" || yaml.has(at("recipe"))) && (
        <>
          <h3>{t("form.recipe")}</h3>
          {fixed && yaml.length(at("recipe")) === 0 ? null : <RecipeRows path={at("recipe")} />}
        </>
      )}
    </>
  );
}

const quantities = ["time", "chamber_pressure", "pirani_pressure", "trap_pressure", "shelf_temperature", "trap_temperature", "product_temperature", "front_temperature", "trap_load", "weight", "before", "after", "lost", "duration", "container", "position", "ignored"] as const;

function Log() {
  const { yaml, edit, fixed, described } = useContext(FormContext);
  const list = ["log", "columns"];
  const count = yaml.length(list);
  const offered = described?.of("log.columns[].quantity")?.choices ?? [];
  const known = (offered.length > 0 ? offered : [...quantities]).map((one) => [one, textOf(`quantity.${one}`, one.replace(/_/g, " "))] as const);
  return (
    <>
      <p class="faint small">{t("dryer.log.hint")}</p>
      <PathFault path={["log"]} />
      <PathFault path={list} />
      <div class="fields">
        <ChoiceField path={["log", "delimiter"]} label={t("dryer.delimiter")} otherwise={t("dryer.log.found")} choices={(["comma", "semicolon", "tab"] as const).map((one) => [one, t(`dryer.log.${one}`)] as const)} />
        <ChoiceField path={["log", "decimal"]} label={t("dryer.decimal")} otherwise={t("dryer.log.found")} choices={(["point", "comma"] as const).map((one) => [one, t(`dryer.log.${one}`)] as const)} />
      </div>
      {range(count).map((i) => {
        const column = yaml.at([...list, i, "column"]);
        return (
          <div class="group-row" key={i} role="group" aria-label={t("dryer.column", { number: i + 1 })}>
            <div class="fields">
              <TextField path={[...list, i, "column"]} label={t("dryer.column", { number: i + 1 })} />
              <ChoiceField path={[...list, i, "quantity"]} label={t("dryer.column.quantity")} choices={known} />
              <TextField path={[...list, i, "unit"]} label={t("field.unit")} otherwise={t("dryer.column.unit_of_header")} />
            </div>
            <PathFault path={[...list, i]} />
            {!fixed && <div><button type="button" class="plain" onClick={() => edit(yaml.withOrder(list, range(count).filter((k) => k !== i)), "")}>{t("form.remove", { what: column || t("dryer.column", { number: i + 1 }) })}</button></div>}
          </div>
        );
      })}
      {!fixed && <div><button type="button" disabled={count >= 32} onClick={() => edit(yaml.withEntry(list, { column: t("dryer.column", { number: count + 1 }), quantity: "ignored" }), "")}>{t("dryer.add_column")}</button></div>}
    </>
  );
}

const learnt = ["date", "field", "value", "band", "before", "log"] as const;

/** What tuning has changed: shown, not edited. */
function History() {
  const { yaml } = useContext(FormContext);
  const count = yaml.length(["history"]);
  if (count === 0) return <p class="faint small">{t("dryer.history.none")}</p>;
  return (
    <div class="scroll" tabIndex={0} role="group" aria-label={t("dryer.history")}>
      <table>
        <thead>
          <tr>{learnt.map((field) => <th key={field}>{t(`dryer.history.${field}`)}</th>)}</tr>
        </thead>
        <tbody>
          {range(count).map((i) => (
            <tr key={i}>{learnt.map((field) => <td key={field} class={field === "field" ? "mono" : undefined}>{yaml.at(["history", i, field]) || "–"}</td>)}</tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}

const freshShelf = { area: "0.5 m2", lowest: "-50 °C", highest: "60 °C", contact: "8 W/m2/K", gas: "1.04 W/m2/K/Pa", gas_bend: "0.029 1/Pa" };
const freshManifold = { ports: "8", port_diameter: "19 mm" };
const freshTrap = { coolant: "liquid_nitrogen", charge: "5 kg", loss: "10 W", area: "0.08 m2", volume: "6 L", capacity: "1.5 kg", link: { diameter: "40 mm", length: "0.4 m" } };

export function DryerForm() {
  const { yaml, fault, described } = useContext(FormContext);
  /* What is wrong with no field that this form shows stands above it. */
  const homeless = fault !== null && (fault.field === null ? fault.line === null : described != null && !described.knows(fault.field));
  return (
    <form class="stack" onSubmit={(event) => event.preventDefault()} aria-label={t("dryer.form")}>
      {homeless && <p class="note alarm" role="alert">{fault.message}</p>}
      <Section title={t("dryer.itself")}>
        <DescribedInput path={["name"]} />
        <DescribedInput path={["description"]} long />
      </Section>
      <Section title={t("dryers.chamber")} path={["chamber"]}>
        <DescribedFields under={["chamber"]} />
        <h3>{t("dryer.duct")}</h3>
        <PathFault path={["duct"]} />
        <DescribedFields under={["duct"]} />
      </Section>
      <Section title={t("dryers.trap")} path={["trap"]}>
        <Trap at="trap" />
      </Section>
      <OptionalSection title={t("dryers.second")} path={["second_trap"]} fresh={freshTrap} none={t("dryer.second.none")}>
        <Trap at="second_trap" />
      </OptionalSection>
      <Section title={t("dryers.pump")} path={["pump"]}>
        <Pump />
        <h3>{t("dryer.exhaust")}</h3>
        <div class="fields"><DescribedInput path={["hood_flow"]} /></div>
        <p class="caution small">{t("exhaust.caution")}</p>
      </Section>
      <OptionalSection title={t("dryers.shelf")} path={["shelf"]} fresh={freshShelf} none={t("dryer.shelf.none")}>
        <DescribedFields under={["shelf"]} />
      </OptionalSection>
      <OptionalSection title={t("dryer.manifold")} path={["manifold"]} fresh={freshManifold} none={t("dryer.manifold.none")}>
        <DescribedFields under={["manifold"]} />
      </OptionalSection>
      <Section title={t("dryers.load")} path={["reference_load"]}>
        <ReferenceLoad />
      </Section>
      <section class="part" aria-label={t("dryer.log")}>
        <details open={yaml.has(["log"]) || fault?.field?.startsWith("log") === true}>
          <summary>{t("dryer.log")}</summary>
          <div class="stack"><Log /></div>
        </details>
      </section>
      <section class="part" aria-label={t("dryer.history")}>
        <details open={yaml.length(["history"]) > 0}>
          <summary>{t("dryer.history")}</summary>
          <History />
        </details>
      </section>
    </form>
  );
}
