/* A composition as it is written: "acetonitrile 35 %v/v, water". Only taken apart and put together; the server reads it. */

export interface Part {
  name: string;
  /** As written, without its unit; "" takes the rest. */
  amount: string;
}

export type Basis = "%v/v" | "%w/w" | "mol%";

export interface Composition {
  parts: Part[];
  basis: Basis;
}

const bases: Record<string, Basis> = {
  "%v/v": "%v/v", "% v/v": "%v/v", "vol%": "%v/v", "vol %": "%v/v",
  "%w/w": "%w/w", "% w/w": "%w/w", "wt%": "%w/w", "wt %": "%w/w", "%m/m": "%w/w",
  "mol%": "mol%", "mol %": "mol%",
};

/** Its parts, or null where it is written in a way that rows cannot show. */
export function parseComposition(text: string): Composition | null {
  const parts: Part[] = [];
  let basis: Basis | null = null;
  for (const piece of text.split(/[,;]/)) {
    const trimmed = piece.trim();
    if (trimmed === "") continue;
    const match = /^(.*?)\s+([\d.]+)\s*(%\s?[vwm]\/[vwm]|(?:vol|wt|mol)\s?%)$/i.exec(trimmed);
    if (match === null) {
      if (/%/.test(trimmed)) return null;
      parts.push({ name: trimmed, amount: "" });
      continue;
    }
    const found = bases[match[3]!.toLowerCase()];
    if (found === undefined || (basis !== null && found !== basis)) return null;
    basis = found;
    parts.push({ name: match[1]!, amount: match[2]! });
  }
  return { parts, basis: basis ?? "%v/v" };
}

export function formatComposition({ parts, basis }: Composition): string {
  return parts
    .filter((part) => part.name.trim() !== "" || part.amount !== "")
    .map((part) => (part.amount === "" ? part.name : `${part.name} ${part.amount} ${basis}`))
    .join(", ");
}
