/* A form drawn from what the parsers say of its fields. */
import { useContext, useId } from "preact/hooks";
import { generalPath, type DescribedField } from "../store/forms";
import type { Path } from "../store/yaml";
import { Yaml } from "../store/yaml";
import { t, textOf } from "../text/text";
import { ChoiceField, FormContext, Labelled, NumberField, pathText, QuantityField, TextField, useFault } from "./fields";

/** The label of a field: the catalogue's, or its name in words, the unit that it ends in set off. */
export function labelOf(path: Path | string): string {
  const general = typeof path === "string" ? path : generalPath(path);
  const own = textOf(`field.of.${general}`, "");
  if (own !== "") return own;
  const last = general.split(".").pop()!.replace("[]", "");
  const unit = /_(kg_m3|g_mol|J_mol_K|J_mol|J_gK|mm|mL|g)$/.exec(last);
  const words = (unit === null ? last : last.slice(0, unit.index)).replace(/_/g, " ");
  const named = words.charAt(0).toUpperCase() + words.slice(1);
  return unit === null ? named : `${named}, ${units[unit[1]!]!}`;
}

const units: Record<string, string> = { kg_m3: "kg/m³", g_mol: "g/mol", J_mol_K: "J/(mol K)", J_mol: "J/mol", J_gK: "J/(g K)", mm: "mm", mL: "mL", g: "g" };

/** One field, of whatever kind it is. */
export function DescribedInput({ path, long = false, choices }: { path: Path; long?: boolean; choices?: readonly (readonly [string, string])[] }) {
  const { described } = useContext(FormContext);
  const field = described?.of(path);
  if (field === undefined) return null;
  const label = labelOf(path);
  const otherwise = field.otherwise;
  switch (field.kind) {
    case "choice":
      return <ChoiceField path={path} label={label} choices={choices ?? field.choices.map((one) => [one, textOf(`choice.${one}`, one.replace(/_/g, " "))] as const)} {...(field.needed ? {} : { otherwise: choiceOtherwise(field) })} />;
    case "quantity":
      return <QuantityField path={path} label={label} otherwise={otherwise} unit={unitsOf(field)} />;
    case "number":
      return <NumberField path={path} label={label} otherwise={otherwise} />;
    case "list":
      return <ListField path={path} label={label} />;
    case "curve":
    case "map":
      return <DescribedGroup path={path} />;
    case "text":
      return <TextField path={path} label={label} otherwise={otherwise} long={long} />;
  }
}

/* A temperature whose usual unit is K is no difference: °C stands first, by which the two are told apart. */
function unitsOf({ units: all, path }: DescribedField): string[] {
  return all[0] === "K" && /(lowest|highest|temperature)$/.test(path) ? ["°C", ...all.filter((one) => one !== "°C")] : all;
}

function choiceOtherwise(field: DescribedField): string {
  return field.otherwise === "" ? t("field.not_stated") : t("field.if_not_stated", { what: textOf(`choice.${field.otherwise}`, field.otherwise.replace(/_/g, " ")) });
}

/** Every field right under a path, but for those left out, which the page draws itself. */
export function DescribedFields({ under = [], without = [] }: { under?: Path; without?: readonly string[] }) {
  const { described } = useContext(FormContext);
  const begin = under.length === 0 ? 0 : generalPath(under).length + 1;
  /* Lists of maps, and maps of which nothing more is said, need a form of their own. */
  const drawable = (one: DescribedField) => (one.kind === "list" ? !described!.hasUnder(one.path) : one.kind !== "map" || described!.hasUnder(one.path));
  const fields = (described?.under(under) ?? []).filter(drawable).map((one) => ({ one, name: one.path.slice(begin) })).filter(({ name }) => !without.includes(name));
  const plain = fields.filter(({ one }) => one.kind !== "curve" && one.kind !== "map");
  const groups = fields.filter(({ one }) => one.kind === "curve" || one.kind === "map");
  return (
    <>
      {plain.length > 0 && (
        <div class="fields">
          {plain.map(({ name }) => <DescribedInput key={name} path={[...under, name]} long={name === "description" || name === "note" || name === "source"} />)}
        </div>
      )}
      {groups.map(({ name }) => <DescribedInput key={name} path={[...under, name]} />)}
    </>
  );
}

/** A list of plain values on one line, set apart by commas. */
function ListField({ path, label }: { path: Path; label: string }) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const id = useId();
  const wrong = useFault(path);
  const write = (text: string) => {
    const values = text.split(/[,;]/).map((one) => one.trim()).filter((one) => one !== "");
    edit(values.length === 0 ? yaml.with(path, "") : yaml.with(path, values), pathText(path));
  };
  const text = yaml.list(path).join(", ");
  return (
    <Labelled id={id} label={label} wrong={wrong} path={path}>
      <input id={id} type="text" autocomplete="off" key={text} defaultValue={text} readOnly={fixed} aria-invalid={wrong !== null} onChange={(event) => write(event.currentTarget.value)} />
    </Labelled>
  );
}

/* What stands under one field of its own: a curve (or one plain number in its place), a map. */
function DescribedGroup({ path }: { path: Path }) {
  const { yaml, edit, described, fixed } = useContext(FormContext);
  const field = described!.of(path)!;
  const id = useId();
  const wrong = useFault(path);
  const asNumber = field.kind === "curve" && (yaml.at(path) !== "" || (field.otherwise !== "curve" && !yaml.has(path)));
  const label = labelOf(path);
  return (
    <div class="group-row" role="group" aria-labelledby={id}>
      <div class="row between">
        <span id={id} class="label">{label}</span>
        {field.kind === "curve" && field.otherwise !== "curve" && !fixed && (
          <div class="segments" role="group" aria-label={t("curve.as", { what: label })}>
            <button type="button" aria-pressed={asNumber} onClick={() => !asNumber && edit(yaml.with(path, "1"), "")}>{t("curve.number")}</button>
            <button type="button" aria-pressed={!asNumber} onClick={() => asNumber && edit(new Yaml(yaml.with(path, "")).with(path, { form: "LINEAR", coefficients: [yaml.at(path) || "1", "0"], lowest: "200 K", highest: "350 K" }), "")}>{t("curve.curve")}</button>
          </div>
        )}
      </div>
      {asNumber ? <div class="fields"><NumberField path={path} label={t("curve.value")} hint={field.meaning} /></div> : <DescribedFields under={path} />}
      {!asNumber && wrong !== null && <span class="wrong" role="alert">{wrong}</span>}
    </div>
  );
}
