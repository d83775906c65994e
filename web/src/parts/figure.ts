/* A figure as numbers: drawn on the screen by uPlot, and from the same numbers as SVG, PNG and CSV. */
import { convert, fixed, number, type Quantity, unitOf } from "../store/quantity";

export interface Line {
  label: string;
  /** One of the seven line colours of the style. */
  colour: 1 | 2 | 3 | 4 | 5 | 6 | 7;
  /** Lengths of dash and gap, px; none: drawn through. */
  dash?: number[];
  width?: number;
  values: (number | null)[];
  /** Stays between points as it is (set points), rather than running straight to the next. */
  steps?: boolean;
}

export interface FigureNumbers {
  /** Short name for files. */
  key: string;
  title: string;
  x: { label: string; quantity: Quantity; values: number[] };
  y: { label: string; quantity: Quantity; unit?: string; logarithmic?: boolean; from?: number; to?: number };
  lines: Line[];
  /** Stripes behind the lines, such as a margin to be kept. */
  bands?: { label: string; colour: Line["colour"]; from: (number | null)[]; to: (number | null)[] }[];
  /** Moments worth a thin upright line. */
  marks?: { at: number; label: string }[];
}

/** "label, unit" of an axis in the units shown. */
export function axisTitle(axis: { label: string; quantity: Quantity; unit?: string }): string {
  const unit = axis.unit ?? unitOf(axis.quantity);
  return unit === "" ? axis.label : `${axis.label}, ${unit}`;
}

/** Distances between ticks that read well: 1, 2 or 5 times a power of ten. */
export function ticks(from: number, to: number, most: number): number[] {
  if (!(to > from)) return [from];
  const rough = (to - from) / most;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((f) => f * power).find((s) => s >= rough)!;
  const first = Math.ceil(from / step - 1e-9);
  const last = Math.floor(to / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, i) => (first + i) * step);
}

function tickText(value: number): string {
  return Number(value.toPrecision(6)).toString().replace("-", "−");
}

const escaped = (text: string) => text.replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/"/g, "&quot;");

function colourOf(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

/** The outlines of a stripe, in the units shown: one for each stretch where both its edges stand. */
export function bandPieces(f: FigureNumbers, band: NonNullable<FigureNumbers["bands"]>[number]): [number, number][][] {
  const pieces: [number, number][][] = [];
  let there: [number, number][] = [];
  let back: [number, number][] = [];
  const end = () => {
    if (there.length > 1) pieces.push([...there, ...back.reverse()]);
    there = [];
    back = [];
  };
  f.x.values.forEach((x, i) => {
    const [from, to] = [band.from[i], band.to[i]];
    if (from === null || from === undefined || to === null || to === undefined) return end();
    const at = convert(x, f.x.quantity);
    there.push([at, convert(to, f.y.quantity)]);
    back.push([at, convert(from, f.y.quantity)]);
  });
  end();
  return pieces;
}

/** The figure as an SVG drawing of 760 by 380, with its legend; `within`: the part of x shown, in the unit shown. */
export function figureSvg(f: FigureNumbers, within?: [number, number]): string {
  const [width, height, left, right, top, bottom] = [760, 380, 66, 16, 34, 78];
  const xs = f.x.values.map((v) => convert(v, f.x.quantity));
  const x0 = within?.[0] ?? Math.min(...xs);
  const x1 = within?.[1] ?? Math.max(...xs);
  const scale = (v: number) => (f.y.logarithmic ? Math.log10(v) : v);
  const shown = f.lines.map((line) =>
    line.values.map((v) => {
      if (v === null) return null;
      const value = convert(v, f.y.quantity);
      return f.y.logarithmic && value <= 0 ? null : scale(value);
    }),
  );
  const inside = shown.flatMap((line) => line.filter((v, i): v is number => v !== null && xs[i]! >= x0 && xs[i]! <= x1));
  let y0 = f.y.from !== undefined ? scale(convert(f.y.from, f.y.quantity)) : Math.min(...inside);
  let y1 = f.y.to !== undefined ? scale(convert(f.y.to, f.y.quantity)) : Math.max(...inside);
  if (!(y1 > y0)) [y0, y1] = [y0 - 1, y0 + 1];
  const px = (x: number) => left + ((x - x0) / (x1 - x0 || 1)) * (width - left - right);
  const py = (y: number) => height - bottom - ((y - y0) / (y1 - y0)) * (height - top - bottom);
  const ink = colourOf("--ink");
  const rule = colourOf("--rule");
  const out: string[] = [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="DejaVu Sans, Arial, sans-serif" font-size="12" fill="${ink}">`,
    `<title>${escaped(f.title)}</title><rect width="${width}" height="${height}" fill="${colourOf("--sheet")}"/>`,
    `<text x="${left}" y="20" font-size="14" font-weight="600">${escaped(f.title)}</text>`,
    `<clipPath id="c"><rect x="${left}" y="${top}" width="${width - left - right}" height="${height - top - bottom}"/></clipPath>`,
  ];
  const yTicks = f.y.logarithmic
    ? Array.from({ length: Math.floor(y1) - Math.ceil(y0) + 1 }, (_, i) => Math.ceil(y0) + i)
    : ticks(y0, y1, 6);
  for (const y of yTicks) {
    out.push(`<path d="M${left} ${py(y).toFixed(1)}H${width - right}" stroke="${rule}"/>`);
    const text = f.y.logarithmic ? tickText(10 ** y) : tickText(y);
    out.push(`<text x="${left - 6}" y="${(py(y) + 4).toFixed(1)}" text-anchor="end">${text}</text>`);
  }
  for (const x of ticks(x0, x1, 9)) {
    out.push(`<path d="M${px(x).toFixed(1)} ${top}V${height - bottom}" stroke="${rule}"/>`);
    out.push(`<text x="${px(x).toFixed(1)}" y="${height - bottom + 16}" text-anchor="middle">${tickText(x)}</text>`);
  }
  out.push(`<text x="${(left + width - right) / 2}" y="${height - bottom + 34}" text-anchor="middle">${escaped(axisTitle(f.x))}</text>`);
  out.push(`<text transform="translate(14 ${(top + height - bottom) / 2}) rotate(-90)" text-anchor="middle">${escaped(axisTitle(f.y))}</text>`);
  for (const band of f.bands ?? [])
    for (const piece of bandPieces(f, band)) {
      const points = piece.map(([x, y]) => `${px(x).toFixed(1)} ${py(scale(y)).toFixed(1)}`);
      out.push(`<path clip-path="url(#c)" d="M${points.join("L")}Z" fill="${colourOf(`--line-${band.colour}`)}" fill-opacity="0.16"/>`);
    }
  for (const mark of f.marks ?? []) {
    const x = convert(mark.at, f.x.quantity);
    if (x < x0 || x > x1) continue;
    out.push(`<path d="M${px(x).toFixed(1)} ${top}V${height - bottom}" stroke="${ink}" stroke-width="0.8" stroke-dasharray="2 3"/>`);
  }
  let at = left;
  let row = height - 22;
  f.lines.forEach((line, k) => {
    const stroke = colourOf(`--line-${line.colour}`);
    const dash = line.dash ? ` stroke-dasharray="${line.dash.join(" ")}"` : "";
    let d = "";
    let pen = false;
    let before = 0;
    shown[k]!.forEach((y, i) => {
      if (y === null) {
        pen = false;
        return;
      }
      if (line.steps && pen) d += `L${px(xs[i]!).toFixed(1)} ${before.toFixed(1)}`;
      d += `${pen ? "L" : "M"}${px(xs[i]!).toFixed(1)} ${py(y).toFixed(1)}`;
      before = py(y);
      pen = true;
    });
    out.push(`<path clip-path="url(#c)" d="${d}" fill="none" stroke="${stroke}" stroke-width="${line.width ?? 1.6}"${dash}/>`);
    const length = 34 + line.label.length * 6.8;
    if (at + length > width - right) {
      at = left;
      row += 15;
    }
    out.push(`<path d="M${at} ${row - 4}h22" stroke="${stroke}" stroke-width="2"${dash}/><text x="${at + 27}" y="${row}" font-size="11">${escaped(line.label)}</text>`);
    at += length;
  });
  out.push("</svg>");
  return out.join("\n");
}

/** The numbers as CSV in the units shown; empty where a line has none. */
export function figureCsv(f: FigureNumbers): string {
  const quoted = (text: string) => (/[",\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text);
  const unit = f.y.unit ?? unitOf(f.y.quantity);
  const head = [axisTitle(f.x), ...f.lines.map((line) => (unit === "" ? line.label : `${line.label}, ${unit}`))];
  const rows = f.x.values.map((x, i) =>
    [convert(x, f.x.quantity), ...f.lines.map((line) => {
      const v = line.values[i];
      return v === null || v === undefined ? "" : convert(v, f.y.quantity);
    })].map((v) => (typeof v === "number" ? String(Number(v.toPrecision(8))) : v)),
  );
  return [head.map(quoted), ...rows].map((row) => row.join(",")).join("\r\n") + "\r\n";
}

/** A value of one line as the legend shows it. */
export function legendValue(f: FigureNumbers, value: number | null | undefined): string {
  if (value === null || value === undefined) return "–";
  const v = convert(value, f.y.quantity);
  return f.y.quantity === "temperature" ? fixed(v, 1) : number(v, 3);
}

/** A drawing on the page as a file of its own: its colours as they are shown now, on the sheet they stand on. */
export function standalone(drawn: SVGSVGElement): string {
  const copy = drawn.cloneNode(true) as SVGSVGElement;
  for (const gone of copy.querySelectorAll("[data-screen]")) gone.remove();
  for (const one of copy.querySelectorAll("*")) for (const name of ["tabindex", "class", "data-point"]) one.removeAttribute(name);
  const { width, height } = drawn.viewBox.baseVal;
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("width", String(width));
  copy.setAttribute("height", String(height));
  copy.setAttribute("font-family", "DejaVu Sans, Arial, sans-serif");
  const sheet = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  for (const [name, value] of Object.entries({ width, height, fill: "var(--sheet)" })) sheet.setAttribute(name, String(value));
  copy.insertBefore(sheet, copy.firstChild);
  return new XMLSerializer().serializeToString(copy).replace(/var\((--[\w-]+)\)/g, (_, name: string) => colourOf(name));
}

/** Rows of cells as CSV. */
export function csvText(rows: (string | number | null | undefined)[][]): string {
  const cell = (value: string | number | null | undefined) => {
    if (value === null || value === undefined) return "";
    if (typeof value === "number") return String(Number(value.toPrecision(8)));
    return /[",\n]/.test(value) ? `"${value.replace(/"/g, '""')}"` : value;
  };
  return rows.map((row) => row.map(cell).join(",")).join("\r\n") + "\r\n";
}

/** Hands a text or a picture to the browser's downloads. */
export function download(name: string, content: string | Blob, type: string): void {
  const url = URL.createObjectURL(content instanceof Blob ? content : new Blob([content], { type }));
  const link = document.createElement("a");
  link.href = url;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
}

/** An SVG drawing as PNG at twice its size. */
export async function svgToPng(svg: string): Promise<Blob> {
  const url = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
  try {
    const picture = new Image();
    picture.src = url;
    await picture.decode();
    const canvas = document.createElement("canvas");
    canvas.width = picture.naturalWidth * 2;
    canvas.height = picture.naturalHeight * 2;
    canvas.getContext("2d")!.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return await new Promise<Blob>((resolve, reject) =>
      canvas.toBlob((blob) => (blob === null ? reject(new Error("no picture")) : resolve(blob)), "image/png"),
    );
  } finally {
    URL.revokeObjectURL(url);
  }
}
