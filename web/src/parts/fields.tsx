/* Fields of a form over a YAML text: each reads one path and writes it back in place. What is wrong is said by the server,
   and shown at the field whose path or line it names. */
import { useSignal } from "@preact/signals";
import { createContext, type ComponentChildren } from "preact";
import { useContext, useEffect, useId, useRef } from "preact/hooks";
import type { Refused } from "../api/client";
import type { Described, DescribedField } from "../store/forms";
import type { Path } from "../store/yaml";
import { Yaml } from "../store/yaml";
import { number } from "../store/quantity";
import { t } from "../text/text";

export interface Form {
  yaml: Yaml;
  /** A new text; `field` names what was edited, for undoing. */
  edit: (text: string, field: string) => void;
  fault: Refused | null;
  /** What the parsers say of every field; gives hints and units. */
  described?: Described | null;
  /** Shown only, not to be changed. */
  fixed?: boolean;
  /** Hints stand there always, rather than at the field that one is in. */
  hints?: boolean;
}

export const FormContext = createContext<Form>({ yaml: new Yaml(""), edit: () => undefined, fault: null });

/** The path as the server writes it: sample.solutes[0].name. */
export function pathText(path: Path): string {
  return path.map((step, i) => (typeof step === "number" ? `[${step}]` : i === 0 ? step : `.${step}`)).join("");
}

/* The sentence alone: the field itself says where, so file, line and path are left out. */
function sentence(message: string): string {
  const said = message.replace(/^[^\s:]+:\d+: /, "").replace(/^[\w.[\]]+: /, "");
  return said.charAt(0).toUpperCase() + said.slice(1);
}

/** What the server says of this path, or null. */
export function useFault(path: Path): string | null {
  const { yaml, fault } = useContext(FormContext);
  if (fault === null) return null;
  if (fault.field !== null) return fault.field === pathText(path) ? sentence(fault.message) : null;
  return fault.line !== null && yaml.has(path) && yaml.line(path) === fault.line ? sentence(fault.message) : null;
}

/** What is wrong with a row or a section as a whole. */
export function PathFault({ path }: { path: Path }) {
  const wrong = useFault(path);
  return wrong === null ? null : <span class="wrong small whole" role="alert">{wrong}</span>;
}

/** What the parsers say of this path, where it is known. */
export function useDescribed(path: Path): DescribedField | undefined {
  return useContext(FormContext).described?.of(path);
}

/** m² of m2, as a unit is read. */
const raised = (unit: string) => unit.replace(/m([23])(?![\w])/g, (_, power) => (power === "2" ? "m²" : "m³"));

/* "1e+08 s" as it is read. */
function bound(text: string): string {
  const [written, unit] = splitQuantity(text);
  const value = Number(written);
  if (written === "" || !Number.isFinite(value)) return text;
  const size = Math.abs(value);
  const said = size !== 0 && (size >= 1e6 || size < 1e-3) ? number(value, 1).replace(/^(−?)1 × /, "$1") : Number(value.toPrecision(5)).toString().replace("-", "−");
  return `${said}${unit === "" ? "" : ` ${unit}`}`;
}

/** "empty, without the trap (0.01 L to 1000 m³)". */
export function meaningOf(field: DescribedField | undefined): string {
  if (field === undefined) return "";
  const [lowest, highest] = [bound(field.lowest), bound(field.highest)];
  const bounds = lowest !== "" && highest !== "" ? t("field.between", { lowest, highest }) : lowest !== "" ? t("field.from", { lowest }) : highest !== "" ? t("field.to", { highest }) : "";
  return [field.meaning, bounds === "" ? "" : `(${bounds})`].join(" ").trim().replace(/\bm[23]\b/g, raised);
}

/* What every field needs: its own id, what is wrong with it, and the id of what is said below it. */
function useField(path: Path, hint: string | undefined): { id: string; wrong: string | null; said: string | undefined } {
  const id = useId();
  const wrong = useFault(path);
  const meaning = meaningOf(useDescribed(path));
  return { id, wrong, said: wrong !== null || hint || meaning !== "" ? `${id}-said` : undefined };
}

interface Common {
  path: Path;
  label: string;
  hint?: string;
  /** Shown where nothing stands: what then holds. */
  otherwise?: string;
}

export function Labelled(props: { id: string; label: ComponentChildren; wrong: string | null; hint?: string | undefined; path?: Path; children: ComponentChildren }) {
  const { hints } = useContext(FormContext);
  const described = useDescribed(props.path ?? []);
  const hint = props.hint || meaningOf(described);
  return (
    <div class="field">
      <label for={props.id}>
        {props.label}
        {described?.needed && <span class="faint" aria-hidden="true">*</span>}
      </label>
      {props.children}
      {props.wrong !== null ? <span class="wrong" id={`${props.id}-said`} role="alert">{props.wrong}</span> : hint !== "" && <span class={props.hint || hints ? "hint" : "hint near"} id={`${props.id}-said`}>{hint}</span>}
    </div>
  );
}

export function TextField({ path, label, hint, otherwise, list, long = false }: Common & { list?: string; long?: boolean }) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const { id, wrong, said } = useField(path, hint);
  const given = {
    id,
    value: yaml.at(path),
    placeholder: otherwise,
    readOnly: fixed,
    "aria-invalid": wrong !== null,
    "aria-describedby": said,
    onInput: (event: Event) => edit(yaml.with(path, (event.target as HTMLInputElement).value), pathText(path)),
  };
  return (
    <Labelled id={id} label={label} wrong={wrong} hint={hint} path={path}>
      {long ? <textarea rows={2} {...given} /> : <input type="text" list={list} autocomplete="off" {...given} />}
    </Labelled>
  );
}

export function ChoiceField({ path, label, hint, choices, otherwise, onPick }: Common & { choices: readonly (readonly [string, string])[]; onPick?: (value: string) => void }) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const { id, wrong, said } = useField(path, hint);
  const value = yaml.at(path);
  const known = choices.some(([key]) => key === value);
  return (
    <Labelled id={id} label={label} wrong={wrong} hint={hint} path={path}>
      <select
        id={id}
        value={value}
        disabled={fixed}
        aria-invalid={wrong !== null}
        aria-describedby={said}
        onChange={(event) => {
          const picked = event.currentTarget.value;
          if (onPick) onPick(picked);
          else edit(yaml.with(path, picked), "");
        }}
      >
        {otherwise !== undefined && <option value="">{otherwise}</option>}
        {!known && (value !== "" || otherwise === undefined) && <option value={value}>{value === "" ? t("field.choose") : value}</option>}
        {choices.map(([key, text]) => <option key={key} value={key}>{text}</option>)}
      </select>
    </Labelled>
  );
}

/* Units that a field offers, with factor and offset to the first of its kind; the server knows many more. */
const unitTable = {
  temperature: { "°C": [1, 0], K: [1, -273.15], "°F": [5 / 9, -160 / 9] },
  "temperature difference": { K: [1, 0] },
  volume: { mL: [1, 0], L: [1000, 0], uL: [0.001, 0] },
  time: { h: [1, 0], min: [1 / 60, 0], d: [24, 0], s: [1 / 3600, 0] },
  pressure: { mbar: [1, 0], Pa: [0.01, 0], Torr: [1013.25 / 760, 0] },
  concentration: { "g/L": [1, 0], "mg/mL": [1, 0] },
  mass: { g: [1, 0], kg: [1000, 0] },
  length: { mm: [1, 0], cm: [10, 0], m: [1000, 0] },
  area: { m2: [1, 0], cm2: [1e-4, 0] },
  "volume flow": { "m3/h": [1, 0], "L/min": [0.06, 0], "L/s": [3.6, 0] },
  leak: { "mbar L/s": [1, 0] },
  power: { W: [1, 0], kW: [1000, 0] },
  "heat capacity": { "kJ/K": [1, 0], "J/K": [0.001, 0] },
  ramp: { "K/min": [1, 0], "K/h": [1 / 60, 0] },
  share: { "%": [1, 0], ppm: [1e-4, 0] },
  "heat transfer": { "W/m2/K": [1, 0] },
  "heat transfer over pressure": { "W/m2/K/Pa": [1, 0] },
  "inverse pressure": { "1/Pa": [1, 0] },
  "heat conduction": { "W/m/K": [1, 0] },
  resistance: { "m/s": [1, 0], "cm2 Torr h/g": [4.8e4, 0] },
  "resistance over length": { "1/s": [1, 0], "cm Torr h/g": [4.8e6, 0] },
  "inverse length": { "1/m": [1, 0], "1/cm": [100, 0] },
  density: { "g/L": [1, 0], "kg/m3": [1, 0] },
  none: {},
} satisfies Record<string, Record<string, [number, number]>>;

export type FieldUnit = keyof typeof unitTable;

/* Units that are less usual, offered where the parsers' description names them. */
const more: Partial<Record<FieldUnit, Record<string, [number, number]>>> = {
  "temperature difference": { "°C": [1, 0] },
  volume: { "µL": [0.001, 0], cm3: [1, 0], m3: [1e6, 0] },
  pressure: { hPa: [1, 0], kPa: [10, 0], bar: [1000, 0], mTorr: [1.01325 / 760, 0], mmHg: [1.33322387415, 0], atm: [1013.25, 0], "µbar": [0.001, 0] },
  concentration: { "kg/m3": [1, 0] },
  mass: { mg: [0.001, 0] },
  length: { "µm": [0.001, 0] },
  area: { mm2: [1e-6, 0] },
  "volume flow": { "m3/s": [3600, 0] },
  leak: { "Pa m3/s": [10, 0] },
  ramp: { "K/s": [60, 0], "°C/min": [1, 0] },
  "inverse length": { "1/mm": [1000, 0] },
};

/* Factor and offset of every unit of a kind. */
function scalesOf(kind: FieldUnit): Record<string, [number, number]> {
  return { ...(unitTable[kind] as Record<string, [number, number]>), ...more[kind] };
}

/** The kind of quantity that is written in these units. */
export function kindOf(units: readonly string[]): FieldUnit | undefined {
  const kinds = Object.keys(unitTable) as FieldUnit[];
  const first = units[0];
  return first === undefined ? undefined : (kinds.find((kind) => Object.keys(unitTable[kind])[0] === first) ?? kinds.find((kind) => first in scalesOf(kind)));
}

/** A quantity as it is written, in the first unit of its kind; null where it is none, or in a unit that is not offered. */
export function amountOf(text: string, unit: FieldUnit): number | null {
  const [written, own] = splitQuantity(text);
  const scale = scalesOf(unit)[own];
  const value = Number(written.replace("−", "-").replace(",", "."));
  return scale === undefined || written === "" || !Number.isFinite(value) ? null : value * scale[0] + scale[1];
}

/** A value in the first unit of its kind, written in the unit in which `like` is written. */
export function writtenLike(value: number, unit: FieldUnit, like: string): string {
  const table = unitTable[unit] as Record<string, [number, number]>;
  const own = splitQuantity(like)[1];
  const [key, scale] = own in table ? [own, table[own]!] : [Object.keys(table)[0]!, [1, 0] as [number, number]];
  return `${Number(((value - scale[1]) / scale[0]).toPrecision(6))} ${key}`;
}

/** Number and unit of a quantity as it is written; the unit is "" where none is. */
export function splitQuantity(text: string): [string, string] {
  const match = /^\s*([-+−]?[\d.,]*(?:[eE][-+]?\d+)?)\s*(.*?)\s*$/.exec(text);
  return match === null ? [text, ""] : [match[1]!, match[2]!];
}

/** A quantity's number and its unit beside it. */
export function QuantityInput(props: {
  id?: string;
  value: string;
  unit: FieldUnit | readonly string[];
  onValue: (value: string) => void;
  otherwise?: string | undefined;
  invalid?: boolean;
  describedBy?: string | undefined;
  label?: string;
}) {
  const { fixed } = useContext(FormContext);
  const kind = typeof props.unit === "string" ? props.unit : (kindOf(props.unit) ?? "none");
  const table = scalesOf(kind);
  const offered = typeof props.unit === "string" ? Object.keys(unitTable[kind]) : props.unit;
  const [writtenNumber, writtenUnit] = splitQuantity(props.value);
  const lastUnit = useRef(offered[0]!);
  if (writtenUnit !== "" && writtenNumber !== "") lastUnit.current = writtenUnit;
  const unit = (writtenNumber === "" ? "" : writtenUnit) || lastUnit.current;
  /* While one types, what is typed stays on the screen even where it is no number yet. */
  const typed = useSignal<string | null>(null);
  const [otherNumber, otherUnit] = splitQuantity(props.otherwise ?? "");
  const input = (event: Event) => {
    const text = (event.target as HTMLInputElement).value;
    typed.value = text;
    const [n, u] = splitQuantity(text);
    props.onValue(text.trim() === "" ? "" : `${n.replace("−", "-")} ${u || unit}`.trim());
  };
  const pick = (event: Event) => {
    const next = (event.target as HTMLSelectElement).value;
    lastUnit.current = next;
    const from = table[unit];
    const to = table[next];
    const value = Number(writtenNumber.replace(",", "."));
    if (writtenNumber === "") return;
    if (from === undefined || to === undefined || !Number.isFinite(value)) props.onValue(`${writtenNumber} ${next}`);
    else props.onValue(`${Number(((value * from[0] + from[1] - to[1]) / to[0]).toPrecision(9))} ${next}`);
  };
  return (
    <div class="with-unit">
      <input
        id={props.id}
        type="text"
        inputMode="decimal"
        autocomplete="off"
        aria-label={props.label}
        aria-invalid={props.invalid}
        aria-describedby={props.describedBy}
        value={typed.value ?? writtenNumber}
        readOnly={fixed}
        placeholder={writtenNumber === "" ? otherNumber || props.otherwise : undefined}
        onInput={input}
        onBlur={() => (typed.value = null)}
      />
      {offered.length === 1 && unit === offered[0] ? <span class="unit">{raised(unit)}</span> : (
        <select disabled={fixed} aria-label={t("field.unit")} value={writtenNumber === "" && writtenUnit === "" && otherNumber !== "" && offered.includes(otherUnit) ? otherUnit : unit} onChange={pick}>
          {!offered.includes(unit) && <option value={unit}>{raised(unit)}</option>}
          {offered.map((one) => <option key={one} value={one}>{raised(one)}</option>)}
        </select>
      )}
    </div>
  );
}

export function QuantityField({ path, label, hint, otherwise, unit }: Common & { unit: FieldUnit | readonly string[] }) {
  const { yaml, edit } = useContext(FormContext);
  const { id, wrong, said } = useField(path, hint);
  return (
    <Labelled id={id} label={label} wrong={wrong} hint={hint} path={path}>
      <QuantityInput
        id={id}
        value={yaml.at(path)}
        unit={unit}
        otherwise={otherwise}
        invalid={wrong !== null}
        describedBy={said}
        onValue={(value) => edit(yaml.with(path, value), pathText(path))}
      />
    </Labelled>
  );
}

export function NumberField({ path, label, hint, otherwise }: Common) {
  const { yaml, edit, fixed } = useContext(FormContext);
  const { id, wrong, said } = useField(path, hint);
  return (
    <Labelled id={id} label={label} wrong={wrong} hint={hint} path={path}>
      <input
        id={id}
        type="text"
        inputMode="numeric"
        autocomplete="off"
        value={yaml.at(path)}
        readOnly={fixed}
        placeholder={otherwise}
        aria-invalid={wrong !== null}
        aria-describedby={said}
        onInput={(event) => edit(yaml.with(path, event.currentTarget.value.trim()), pathText(path))}
      />
    </Labelled>
  );
}

export interface Option {
  value: string;
  text: string;
  also?: string;
}

/** A text with suggestions that are found by any part of their name; free text is taken as it is. */
export function Combo(props: { id?: string; label?: string; value: string; options: Option[]; onValue: (value: string) => void; invalid?: boolean }) {
  const open = useSignal(false);
  const typed = useSignal<string | null>(null);
  const marked = useSignal(0);
  const list = useId();
  const shown = typed.value ?? props.value;
  const asked = (typed.value ?? "").trim().toLowerCase();
  const found = props.options
    .filter((one) => asked === "" || `${one.text} ${one.also ?? ""} ${one.value}`.toLowerCase().includes(asked))
    .sort((a, b) => Number(b.text.toLowerCase().startsWith(asked)) - Number(a.text.toLowerCase().startsWith(asked)))
    .slice(0, 60);
  const take = (value: string) => {
    open.value = false;
    typed.value = null;
    props.onValue(value);
  };
  const own = useRef<HTMLDivElement>(null);
  useEffect(() => {
    own.current?.querySelector('[aria-selected="true"]')?.scrollIntoView({ block: "nearest" });
  }, [marked.value, open.value]);
  const onKey = (event: KeyboardEvent) => {
    if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (!open.value) open.value = true;
      else marked.value = (marked.value + (event.key === "ArrowDown" ? 1 : found.length - 1)) % Math.max(found.length, 1);
    } else if (event.key === "Enter" && open.value && found[marked.value]) {
      event.preventDefault();
      take(found[marked.value]!.value);
    } else if (event.key === "Escape" && open.value) {
      event.preventDefault();
      open.value = false;
      typed.value = null;
    }
  };
  return (
    <div class="combo" ref={own}>
      <input
        id={props.id}
        type="text"
        role="combobox"
        autocomplete="off"
        aria-label={props.label}
        aria-expanded={open.value}
        aria-controls={list}
        aria-autocomplete="list"
        aria-activedescendant={open.value && found[marked.value] ? `${list}-${marked.value}` : undefined}
        aria-invalid={props.invalid}
        value={shown}
        onFocus={(event) => event.currentTarget.select()}
        onClick={() => (open.value = true)}
        onInput={(event) => {
          typed.value = event.currentTarget.value;
          marked.value = 0;
          open.value = true;
        }}
        onKeyDown={onKey}
        onBlur={() => {
          open.value = false;
          if (typed.value !== null) take(typed.value);
        }}
      />
      {open.value && found.length > 0 && (
        <ul class="options" role="listbox" id={list} aria-label={props.label}>
          {found.map((one, i) => (
            <li key={one.value} id={`${list}-${i}`} role="option" aria-selected={i === marked.value} onPointerDown={(event) => { event.preventDefault(); take(one.value); }}>
              {one.text} {one.also && <small class="faint">{one.also}</small>}
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}
