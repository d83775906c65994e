/* How numbers are shown: units are chosen by the reader and apply at once, everywhere. Showing only; the server computes. */
import { effect, signal } from "@preact/signals";

export interface Units {
  temperature: "°C" | "K" | "°F";
  pressure: "mbar" | "Pa" | "Torr" | "mTorr";
  mass: "g" | "kg" | "oz";
  time: "h" | "min" | "d";
}

const usual: Units = { temperature: "°C", pressure: "mbar", mass: "g", time: "h" };
const key = "dryfront/units";

function remembered(): Units {
  try {
    return { ...usual, ...(JSON.parse(localStorage.getItem(key) ?? "{}") as Partial<Units>) };
  } catch {
    return usual;
  }
}

export const units = signal<Units>(remembered());
effect(() => {
  try {
    localStorage.setItem(key, JSON.stringify(units.value));
  } catch {
    /* Not remembered then. */
  }
});

export const choices: { [K in keyof Units]: readonly Units[K][] } = {
  temperature: ["°C", "K", "°F"],
  pressure: ["mbar", "Pa", "Torr", "mTorr"],
  mass: ["g", "kg", "oz"],
  time: ["h", "min", "d"],
};

/* From what the server writes (°C, mbar, g, h) to what is shown. 1 Torr = 101325/760 Pa; 1 oz = 28.349523125 g (exact). */
const perMbar = { mbar: 1, Pa: 100, Torr: 76000 / 101325, mTorr: 76000000 / 101325 };
const perGram = { g: 1, kg: 1e-3, oz: 1 / 28.349523125 };
const perHour = { h: 1, min: 60, d: 1 / 24 };

export type Quantity = keyof Units | "temperature difference" | "none";

/** The value in the unit shown; the server's °C, K (difference), mbar, g or h come in. */
export function convert(value: number, quantity: Quantity): number {
  const u = units.value;
  switch (quantity) {
    case "temperature":
      return u.temperature === "°C" ? value : u.temperature === "K" ? value + 273.15 : value * 1.8 + 32;
    case "temperature difference":
      return u.temperature === "°F" ? value * 1.8 : value;
    case "pressure":
      return value * perMbar[u.pressure];
    case "mass":
      return value * perGram[u.mass];
    case "time":
      return value * perHour[u.time];
    case "none":
      return value;
  }
}

export function unitOf(quantity: Quantity): string {
  const u = units.value;
  if (quantity === "none") return "";
  if (quantity === "temperature difference") return u.temperature === "°F" ? "°F" : "K";
  return u[quantity];
}

/** A whole number as it is raised: ⁻⁵. */
export const superscript = (n: number) => [...String(n)].map((c) => (c === "-" ? "⁻" : "⁰¹²³⁴⁵⁶⁷⁸⁹"[Number(c)])).join("");

/** A number with so many significant digits that it reads well, no exponent between 1e-4 and 1e6; a true minus sign. */
export function number(value: number | null | undefined, digits = 3): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const size = Math.abs(value);
  let text: string;
  if (size >= 1e6 || size < 1e-4) {
    const [head, exponent] = value.toExponential(Math.max(digits - 1, 0)).split("e");
    text = `${head} × 10${superscript(Number(exponent))}`;
  } else {
    const decimals = Math.max(0, digits - 1 - Math.floor(Math.log10(size)));
    text = value.toFixed(Math.min(decimals, 8));
  }
  return text.replace("-", "−");
}

/** A number with a fixed count of decimals. */
export function fixed(value: number | null | undefined, decimals: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const text = value.toFixed(decimals);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "−");
}

const decimalsOf: Partial<Record<Quantity, number>> = { temperature: 1, "temperature difference": 1 };

/** The value with its unit, in the units shown. */
export function show(value: number | null | undefined, quantity: Quantity, digits = 3): string {
  if (value === null || value === undefined) return "–";
  const converted = convert(value, quantity);
  const decimals = decimalsOf[quantity];
  const text = decimals === undefined ? number(converted, digits) : fixed(converted, decimals);
  const unit = unitOf(quantity);
  return unit === "" ? text : `${text} ${unit}`;
}

/** A duration, given in hours, as one says it: 35 min, 4.2 h, 3.1 d. */
export function duration(hours: number | null | undefined): string {
  if (hours === null || hours === undefined) return "–";
  if (units.value.time !== "h") return show(hours, "time");
  if (hours < 1) return `${number(hours * 60, 2)} min`;
  return `${hours < 10 ? fixed(hours, 1) : number(hours, 3)} h`;
}
