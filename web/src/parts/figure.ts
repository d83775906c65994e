/* A figure as numbers: drawn on the screen by uPlot, and from the same numbers as SVG, PNG and CSV. */
import { convert, fixed, number, type Quantity, unitOf } from "../store/quantity";
import { t } from "../text/text";

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
  bands?: { label: string; /** Which of several of that name. */ of?: string; colour: Line["colour"]; from: (number | null)[]; to: (number | null)[] }[];
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

/** A colour of the style as the page shows it now. */
export function colourOf(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
}

let paper: CSSStyleDeclaration | undefined;

/* The same in the light look, whichever is shown: what is saved ends up on white paper. */
function paperColour(name: string): string {
  if (paper === undefined) {
    const probe = document.createElement("i");
    probe.className = "light";
    probe.hidden = true;
    document.body.append(probe);
    paper = getComputedStyle(probe);
  }
  return paper.getPropertyValue(name).trim();
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

/** The figure as an SVG drawing 760 wide, with its legend; `within`: the part of x shown, in the unit shown. */
export function figureSvg(f: FigureNumbers, within?: [number, number]): string {
  const [width, left, right, top, bottom] = [760, 66, 16, 34, 46];
  const dashed = (line: Line) => (line.dash ? ` stroke-dasharray="${line.dash.join(" ")}"` : "");
  const bands = (f.bands ?? []).filter((band, k, all) => all.findIndex((one) => one.label === band.label) === k);
  const entries = [
    ...f.lines.map((line) => ({ swatch: `<path d="M0 4h22" stroke="${paperColour(`--line-${line.colour}`)}" stroke-width="2"${dashed(line)}/>`, text: line.label })),
    ...bands.map((band) => ({ swatch: `<path d="M0 0h22v8h-22z" fill="${paperColour(`--line-${band.colour}`)}" fill-opacity="0.25"/>`, text: band.label })),
  ];
  const legend = legendSvg(entries, left, width - right, 354);
  const height = 348;
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
  const ink = paperColour("--ink");
  const rule = paperColour("--rule");
  const out: string[] = [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height + legend.height}" width="${width}" height="${height + legend.height}" font-family="DejaVu Sans, Arial, sans-serif" font-size="12" fill="${ink}">`,
    `<title>${escaped(f.title)}</title><rect width="${width}" height="${height + legend.height}" fill="${paperColour("--sheet")}"/>`,
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
      out.push(`<path clip-path="url(#c)" d="M${points.join("L")}Z" fill="${paperColour(`--line-${band.colour}`)}" fill-opacity="0.16"/>`);
    }
  for (const mark of f.marks ?? []) {
    const x = convert(mark.at, f.x.quantity);
    if (x < x0 || x > x1) continue;
    out.push(`<path d="M${px(x).toFixed(1)} ${top}V${height - bottom}" stroke="${ink}" stroke-width="0.8" stroke-dasharray="2 3"/>`);
  }
  f.lines.forEach((line, k) => {
    const stroke = paperColour(`--line-${line.colour}`);
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
    out.push(`<path clip-path="url(#c)" d="${d}" fill="none" stroke="${stroke}" stroke-width="${line.width ?? 1.6}"${dashed(line)}/>`);
  });
  out.push(legend.svg, "</svg>");
  return out.join("\n");
}

/** The numbers as CSV in the units shown; empty where a line has none. */
export function figureCsv(f: FigureNumbers): string {
  const unit = f.y.unit ?? unitOf(f.y.quantity);
  const shown = (v: number | null | undefined) => (v === null || v === undefined ? null : convert(v, f.y.quantity));
  const columns = [
    ...f.lines.map((line) => [line.label, line.values] as const),
    ...(f.bands ?? []).flatMap((band) => [[`${band.label}${band.of ?? ""}: ${t("figure.from")}`, band.from], [`${band.label}${band.of ?? ""}: ${t("figure.to")}`, band.to]] as const),
  ];
  const head = [axisTitle(f.x), ...columns.map(([label]) => (unit === "" ? label : `${label}, ${unit}`))];
  return csvText([head, ...f.x.values.map((x, i) => [convert(x, f.x.quantity), ...columns.map(([, values]) => shown(values[i]))])]);
}

/** A value of one line as the legend shows it. */
export function legendValue(f: FigureNumbers, value: number | null | undefined): string {
  if (value === null || value === undefined) return "–";
  const v = convert(value, f.y.quantity);
  return f.y.quantity === "temperature" ? fixed(v, 1) : number(v, 3);
}

/** The text of a drawing with the colours of the light look written out. */
export const onPaper = (svg: string): string => svg.replace(/var\((--[\w-]+)\)/g, (_, name: string) => paperColour(name));

/** Entries of a legend from left to right, in as many rows as they need; `swatch` is drawn from (0, 0), 22 by 8. */
function legendSvg(entries: { swatch: string; text: string }[], left: number, right: number, top: number): { svg: string; height: number } {
  let at = left;
  let row = top;
  const svg = entries.map(({ swatch, text }) => {
    const length = (swatch === "" ? 16 : 44) + text.length * 6.4;
    if (at > left && at + length > right) {
      at = left;
      row += 16;
    }
    const one = `<g transform="translate(${at} ${row})">${swatch}<text x="${swatch === "" ? 0 : 28}" y="8" font-size="11">${escaped(text)}</text></g>`;
    at += length;
    return one;
  });
  return { svg: svg.join(""), height: entries.length === 0 ? 0 : row + 18 - top };
}

/** A drawing on the page as a file of its own, in the light look, with its title above and its legend below. */
export function standalone(drawn: SVGSVGElement, title: string): string {
  const copy = drawn.cloneNode(true) as SVGSVGElement;
  for (const gone of copy.querySelectorAll("[data-screen]")) gone.remove();
  for (const one of [copy, ...copy.querySelectorAll("*")]) for (const name of ["tabindex", "class", "style", "data-point"]) one.removeAttribute(name);
  const { width, height } = drawn.viewBox.baseVal;
  const wide = Math.max(width, 40 + title.length * 8);
  const spans = drawn.closest("figure")?.querySelectorAll<HTMLElement>("figcaption > span:not([data-screen])") ?? [];
  const entries = [...spans].map((span) => ({ swatch: span.querySelector("svg")?.innerHTML ?? "", text: span.textContent ?? "" }));
  const legend = legendSvg(entries, 12, wide - 8, 34 + height);
  const content = [...copy.childNodes].map((node) => new XMLSerializer().serializeToString(node)).join("").replace(/ xmlns="[^"]*"/g, "");
  const high = 34 + height + legend.height;
  return onPaper(
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${wide} ${high}" width="${wide}" height="${high}" font-family="DejaVu Sans, Arial, sans-serif" font-size="12" fill="var(--ink)">` +
      `<title>${escaped(title)}</title><rect width="${wide}" height="${high}" fill="var(--sheet)"/><text x="12" y="20" font-size="14" font-weight="600">${escaped(title)}</text>` +
      `<svg y="30" width="${width}" height="${height}" viewBox="0 0 ${width} ${height}" overflow="visible">${content}</svg>${legend.svg}</svg>`,
  );
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
