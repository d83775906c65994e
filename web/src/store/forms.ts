/* What the server's parsers say of every field of a file: its kind, bounds, units, what holds where it is left out, its
   meaning in one line. Forms are drawn from it, and it gives every field its hint. */
import { signal, type Signal } from "@preact/signals";
import { get, onReturn, Unreachable } from "../api/client";
import { keep, recall } from "./kept";
import type { Path } from "./yaml";

export type FormName = "job" | "dryer" | "container" | "solute" | "substance";

export interface DescribedField {
  /** trap.refrigeration[].power: one [] for each list on the way. */
  path: string;
  kind: "text" | "quantity" | "number" | "choice" | "list" | "map" | "curve";
  needed: boolean;
  /** Needed or not as other fields stand; the meaning says how. */
  depends?: boolean;
  /** What holds where it is left out, as it would be written; "": nothing, or it depends. */
  otherwise: string;
  lowest: string;
  highest: string;
  units: string[];
  choices: string[];
  meaning: string;
}

export class Described {
  private readonly byPath: Map<string, DescribedField>;
  constructor(readonly fields: DescribedField[]) {
    this.byPath = new Map(fields.map((one) => [one.path, one]));
  }

  of(path: Path | string): DescribedField | undefined {
    return this.byPath.get(typeof path === "string" ? path : generalPath(path));
  }

  /** The fields right under a path, in the parsers' order. */
  under(path: Path): DescribedField[] {
    const begin = path.length === 0 ? "" : `${generalPath(path)}.`;
    return this.fields.filter((one) => one.path.startsWith(begin) && /^[^.[]+$/.test(one.path.slice(begin.length)));
  }

  /** Whether others stand under a field. */
  hasUnder(path: string): boolean {
    return this.fields.some((one) => one.path.startsWith(`${path}.`) || one.path.startsWith(`${path}[]`));
  }

  /** Whether a form shows the field that a path of the server names: it is described, or in something described as a whole. */
  knows(path: string): boolean {
    for (let at = path.replace(/\[\d+\]/g, "[]"); at !== ""; at = at.replace(/(\[\]|\.?[^.[]+)$/, "")) {
      if (this.byPath.has(at)) return at === path.replace(/\[\d+\]/g, "[]") || !this.hasUnder(at);
      if (this.hasUnder(at)) return at.endsWith("[]") && path.endsWith("]");
    }
    return false;
  }
}

/** trap.refrigeration[].power of trap.refrigeration[2].power. */
export function generalPath(path: Path): string {
  return path.map((step, i) => (typeof step === "number" ? "[]" : i === 0 ? step : `.${step}`)).join("");
}

const held = new Map<FormName, Signal<Described | null>>();
const key = (form: FormName) => `dryfront/form/${form}`;

/** The description of a form; null until it is there. Kept in the browser, so that a form stands without the server too. */
export function described(form: FormName): Signal<Described | null> {
  const known = held.get(form);
  if (known !== undefined) return known;
  const kept = recall<DescribedField[]>(localStorage, key(form));
  const fresh = signal<Described | null>(kept === null ? null : new Described(kept));
  held.set(form, fresh);
  const ask = async () => {
    try {
      const { fields } = (await get(`forms/${form}`)).body as { fields: DescribedField[] };
      fresh.value = new Described(fields);
      keep(localStorage, key(form), fields);
      return true;
    } catch (problem) {
      if (!(problem instanceof Unreachable)) throw problem;
      return false;
    }
  };
  void ask().then((there) => {
    if (there) return;
    const end = onReturn(() => void ask().then((now) => now && end()));
  });
  return fresh;
}
