/* The dryers at hand, the workspace's own and the built-in ones, side by side with the figures that matter. */
import { useEffect } from "preact/hooks";
import { reachable } from "../api/client";
import { amountOf, type FieldUnit } from "../parts/fields";
import { download } from "../parts/figure";
import { Menu } from "../parts/menu";
import { BringButton, useDrop, useTried } from "../parts/shelf";
import { type DryerText, dryerTexts, readDryerTexts } from "../store/dryer_texts";
import { newDryer } from "../store/new_dryer";
import { address, go } from "../store/place";
import { convert, type Quantity, unitOf, units } from "../store/quantity";
import { add, builtInDryers, dryers, refresh } from "../store/workspace";
import { type Path, Yaml } from "../store/yaml";
import { t, textOf } from "../text/text";

export default function DryersPage() {
  const { problem, say, tried } = useTried();
  const { note, drop } = useDrop("dryers", tried);
  useEffect(() => {
    document.title = `${t("nav.dryers")} · dryfront`;
    void refresh();
  }, []);
  useEffect(() => {
    if (dryers.value !== null) void readDryerTexts(builtInDryers.value.map((one) => one.key), dryers.value);
  }, [dryers.value, builtInDryers.value]);

  const copy = (one: DryerText) => void tried(async () => go(["dryer", await add("dryers", one.name, one.text)]));

  const all = dryerTexts.value;
  return (
    <div class="stack">
      <div class="row between">
        <h1>{t("dryers.title")}</h1>
        <div class="row no-print">
          <button class="main" onClick={() => void tried(async () => go(["dryer", await add("dryers", "new dryer", newDryer)]))}>{t("dryers.new")}</button>
          <BringButton label={t("dryers.import")} kindOf={() => "dryers"} said={(_, failed) => say(failed.join(" "))} />
        </div>
      </div>
      {problem}
      {note}
      {all === null ? <p class="quiet">{t(reachable.value ? "loading" : "server.unreachable")}</p> : (
        <section class="sheet">
          <table class="cards" aria-label={t("dryers.title")}>
            <thead>
              <tr>
                <th>{t("dryers.dryer")}</th>
                {columns.map((column) => <th key={column.key}>{t(column.key)}</th>)}
                <th class="no-print"><span class="only-read">{t("dryers.actions")}</span></th>
              </tr>
            </thead>
            <tbody>
              {all.map((one) => <Row key={`${one.own} ${one.name}`} of={one} copy={() => copy(one)} drop={() => drop(one.name)} />)}
            </tbody>
          </table>
        </section>
      )}
      <p class="small faint">{t("dryers.hint")}</p>
    </div>
  );
}

function Row({ of, copy, drop }: { of: DryerText; copy: () => void; drop: () => void }) {
  const yaml = new Yaml(of.text);
  units.value; // Figures are shown anew where the reader chooses other units.
  return (
    <tr>
      <th scope="row" class="wrap">
        <a href={address(["dryer", of.name])}>{of.name}</a>{" "}
        <span class="tag">{of.own ? t("dryers.own") : t("dryers.builtin")}</span>
        <span class="small quiet" style={{ display: "block", fontWeight: 400 }}>{yaml.at(["name"])}</span>
        {of.problem !== null && <span class="wrong small">{of.problem}</span>}
      </th>
      {columns.map((column) => (
        <td key={column.key} data-label={t(column.key)}>{(yaml.problem === null && column.of(yaml)) || "–"}</td>
      ))}
      <td class="act no-print">
        {of.own ? (
          <Menu label={t("dryers.more")} name={t("dryers.more_of", { name: of.name })}>
            <button role="menuitem" onClick={() => download(`${of.name}.yaml`, of.text, "application/yaml")}>{t("kept.export")}</button>
            <button role="menuitem" onClick={copy}>{t("kept.copy")}</button>
            <button role="menuitem" onClick={drop}>{t("dryers.remove")}</button>
          </Menu>
        ) : (
          <button onClick={copy} aria-label={t("dryers.mine_of", { name: of.name })}>{t("dryers.mine")}</button>
        )}
      </td>
    </tr>
  );
}

/** A number as it was written: no more digits than it has. */
function written(value: number, quantity: Quantity): string {
  if (quantity === "mass" && units.value.mass === "g" && value >= 1000) return `${Number((value / 1000).toPrecision(4))}\u00a0kg`;
  return `${Number(convert(value, quantity).toPrecision(4))}\u00a0${unitOf(quantity)}`.replace("-", "−");
}

/** A figure in the units that the reader has chosen, or as it is written where it is of another kind. */
function figure(yaml: Yaml, path: Path, unit: FieldUnit, quantity: Quantity = "none"): string {
  const text = yaml.at(path);
  const value = quantity === "none" ? null : amountOf(text, unit);
  return value === null ? text.replace("-", "−").replace(" ", "\u00a0").replace("m2", "m²").replace("m3", "m³") : written(value, quantity);
}

const columns = [
  { key: "dryers.trap", of: (y: Yaml) => trap(y, "trap") },
  { key: "dryers.second", of: (y: Yaml) => (y.has(["second_trap"]) ? trap(y, "second_trap") : "") },
  { key: "dryers.pump", of: (y: Yaml) => pump(y) },
  { key: "dryers.shelf", of: (y: Yaml) => shelf(y) },
  { key: "dryers.ports", of: (y: Yaml) => ports(y) },
  { key: "dryers.chamber", of: (y: Yaml) => chamber(y) },
  { key: "dryers.load", of: (y: Yaml) => load(y) },
] as const;

function trap(y: Yaml, at: string): string {
  const coolant = y.at([at, "coolant"]);
  const cold = coolant === "" ? figure(y, [at, "refrigeration", 0, "temperature"], "temperature", "temperature") : textOf(`coolant.${coolant}`, coolant);
  const holds = figure(y, [at, "capacity"], "mass", "mass");
  return [cold, holds && t("dryers.holds", { mass: holds })].filter((part) => part !== "").join(", ");
}

function pump(y: Yaml): string {
  const kind = y.at(["pump", "kind"]);
  const flows = Array.from({ length: y.length(["pump", "speed"]) }, (_, i) => amountOf(y.at(["pump", "speed", i, "flow"]), "volume flow"));
  const best = flows.every((flow): flow is number => flow !== null) && flows.length > 0 ? Math.max(...flows) : amountOf(y.at(["pump", "nominal_speed"]), "volume flow");
  const speed = best === null ? y.at(["pump", "nominal_speed"]) : `${Number(best.toPrecision(4))}\u00a0m³/h`;
  const low = figure(y, ["pump", "ultimate_pressure"], "pressure", "pressure");
  return [kind && textOf(`pump.${kind}`, kind), speed, low && t("dryers.down_to", { pressure: low })].filter((part) => part !== "").join(", ");
}

function shelf(y: Yaml): string {
  if (!y.has(["shelf"])) return "";
  const low = amountOf(y.at(["shelf", "lowest"]), "temperature");
  const high = amountOf(y.at(["shelf", "highest"]), "temperature");
  const range = low === null || high === null ? "" : `${written(low, "temperature")} … ${written(high, "temperature")}`;
  const area = amountOf(y.at(["shelf", "area"]), "area");
  return [range, area === null ? "" : `${Number(area.toPrecision(4))}\u00a0m²`].filter((part) => part !== "").join(", ");
}

function ports(y: Yaml): string {
  if (!y.has(["manifold"])) return "";
  return `${y.at(["manifold", "ports"])} × ${figure(y, ["manifold", "port_diameter"], "length")}`;
}

function chamber(y: Yaml): string {
  const control = y.at(["chamber", "control"]) || "none";
  return [figure(y, ["chamber", "volume"], "volume"), textOf(`control.${control}`, control)].filter((part) => part !== "").join(", ");
}

function load(y: Yaml): string {
  const count = y.at(["reference_load", "count"]);
  return count === "" ? "" : `${count} × ${y.at(["reference_load", "container"]).replace(/_/g, " ")}, ${figure(y, ["reference_load", "fill"], "volume")}`;
}
