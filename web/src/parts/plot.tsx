/* A figure on the screen. Figures with the same `joined` name share one cursor; the arrow keys move it. */
import { useComputed, useSignal } from "@preact/signals";
import { useEffect, useLayoutEffect, useRef } from "preact/hooks";
import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import { convert, show, superscript, unitOf, units } from "../store/quantity";
import { colours } from "../store/settings";
import { t } from "../text/text";
import { axisTitle, bandPieces, colourOf, figureCsv, figureSvg, type FigureNumbers, legendValue } from "./figure";
import { SaveMenu } from "./save_menu";

interface Given {
  figure: FigureNumbers;
  /** Name shared by figures whose cursors move together. */
  joined?: string;
  height?: number;
  /** Part of x shown, in the server's unit; changes when the reader drags over the figure. */
  range?: [number, number] | null;
  onRange?: (range: [number, number] | null) => void;
  /** Where the cursor is, in the server's unit of x. */
  onCursor?: (x: number | null) => void;
}

export function Plot({ figure, joined, height = 220, range = null, onRange, onCursor }: Given) {
  const holder = useRef<HTMLDivElement>(null);
  const plot = useRef<uPlot | null>(null);
  const at = useSignal<number | null>(null);
  const asTable = useSignal(false);
  const latest = useRef({ figure, onRange, onCursor });
  latest.current = { figure, onRange, onCursor };
  const look = useComputed(() => `${colours.value} ${JSON.stringify(units.value)}`);

  const shape = figure.lines.map((line) => `${line.label}|${line.colour}|${line.dash?.join()}`).join(";") + figure.title;

  useLayoutEffect(() => {
    const div = holder.current;
    if (div === null) return; // shown as a table
    const ink = colourOf("--ink-2");
    const rule = colourOf("--rule");
    const font = `11.5px ${getComputedStyle(div).fontFamily}`;
    const f = figure;
    const options: uPlot.Options = {
      width: div.clientWidth || 600,
      height,
      padding: [8, 10, 0, 0],
      scales: {
        x: { time: false },
        y: {
          distr: f.y.logarithmic ? 3 : 1,
          ...(f.y.from !== undefined && f.y.to !== undefined
            ? { range: [convert(f.y.from, f.y.quantity), convert(f.y.to, f.y.quantity)] as [number, number] }
            : {}),
        },
      },
      axes: [
        { stroke: ink, grid: { stroke: rule, width: 1 }, ticks: { stroke: rule, size: 4 }, font, labelFont: font, label: axisTitle(f.x), labelSize: 18, size: 26, values: (_, ticks) => ticks.map((v) => String(v).replace("-", "−")) },
        { stroke: ink, grid: { stroke: rule, width: 1 }, ticks: { stroke: rule, size: 4 }, font, labelFont: font, label: axisTitle(f.y), labelSize: 18, size: 48, values: (_, ticks) => ticks.map((v) => (v === null ? "" : f.y.logarithmic ? decadeText(v) : String(Number(v.toPrecision(6))).replace("-", "−"))),
          // Of a logarithmic axis only the decades, as lines and as words.
          ...(f.y.logarithmic ? { filter: (_: uPlot, ticks: number[]) => ticks.map((v) => (isDecade(v) ? v : null)), splits: decades } : {}) },
      ],
      series: [
        {},
        ...f.lines.map((line) => ({
          label: line.label,
          stroke: colourOf(`--line-${line.colour}`),
          width: line.width ?? 1.6,
          ...(line.dash ? { dash: line.dash } : {}),
          points: { show: false },
          ...(line.steps && uPlot.paths.stepped ? { paths: uPlot.paths.stepped({ align: 1 }) } : {}),
        })),
      ],
      cursor: {
        ...(joined === undefined ? {} : { sync: { key: joined, scales: ["x", null] as [string, null] } }),
        drag: { x: true, y: false, setScale: false },
        points: { size: 6 },
        y: false,
      },
      legend: { show: false },
      hooks: {
        setCursor: [
          (u) => {
            at.value = u.cursor.idx ?? null;
            latest.current.onCursor?.(at.value === null ? null : (latest.current.figure.x.values[at.value] ?? null));
          },
        ],
        setSelect: [
          (u) => {
            if (u.select.width < 5) return;
            const back = (v: number) => v / convert(1, latest.current.figure.x.quantity);
            const from = u.posToVal(u.select.left, "x");
            const to = u.posToVal(u.select.left + u.select.width, "x");
            u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
            latest.current.onRange?.([back(from), back(to)]);
          },
        ],
        drawAxes: [
          (u) => {
            const now = latest.current.figure;
            const c = u.ctx;
            c.save();
            c.beginPath();
            c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
            c.clip();
            c.globalAlpha = 0.16;
            for (const band of now.bands ?? []) {
              c.fillStyle = colourOf(`--line-${band.colour}`);
              for (const piece of bandPieces(now, band)) {
                c.beginPath();
                for (const [x, y] of piece) c.lineTo(u.valToPos(x, "x", true), u.valToPos(y, "y", true));
                c.fill();
              }
            }
            c.restore();
          },
        ],
        draw: [
          (u) => {
            const marks = latest.current.figure.marks ?? [];
            const c = u.ctx;
            c.save();
            c.strokeStyle = ink;
            c.setLineDash([2, 4]);
            for (const mark of marks) {
              const x = Math.round(u.valToPos(convert(mark.at, f.x.quantity), "x", true)) + 0.5;
              if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) continue;
              c.beginPath();
              c.moveTo(x, u.bbox.top);
              c.lineTo(x, u.bbox.top + u.bbox.height);
              c.stroke();
            }
            c.restore();
          },
        ],
      },
    };
    const made = new uPlot(options, dataOf(f), div);
    plot.current = made;
    const observer = new ResizeObserver(() => {
      if (div.clientWidth > 0 && div.clientWidth !== made.width) made.setSize({ width: div.clientWidth, height });
    });
    observer.observe(div);
    return () => {
      observer.disconnect();
      made.destroy();
      plot.current = null;
    };
    // The plot is made anew only where its lines, colours or units change; numbers are put in below.
  }, [shape, look.value, height, joined, asTable.value]);

  useEffect(() => {
    const u = plot.current;
    if (u === null) return;
    u.setData(dataOf(figure), range === null);
    if (range !== null) {
      u.setScale("x", { min: convert(range[0], figure.x.quantity), max: convert(range[1], figure.x.quantity) });
    }
  }, [figure, range?.[0], range?.[1], look.value, asTable.value]);

  const onKey = (event: KeyboardEvent) => {
    const u = plot.current;
    if (u === null) return;
    const step = { ArrowRight: 1, ArrowLeft: -1, PageDown: 10, PageUp: -10 }[event.key];
    const last = figure.x.values.length - 1;
    let next: number;
    if (step !== undefined) next = Math.min(Math.max((at.value ?? -1) + step, 0), last);
    else if (event.key === "Home") next = 0;
    else if (event.key === "End") next = last;
    else return;
    event.preventDefault();
    /* The third argument, which uPlot's types leave out, tells the joined figures too. */
    const setCursor = u.setCursor as (at: { left: number; top: number }, fire: boolean, tell: boolean) => void;
    setCursor({ left: u.valToPos(convert(figure.x.values[next]!, figure.x.quantity), "x"), top: 10 }, true, true);
  };

  const i = at.value;
  const name = `dryfront-${figure.key}`;
  const within = range === null ? undefined : (range.map((v) => convert(v, figure.x.quantity)) as [number, number]);
  return (
    <figure class="figure">
      <header>
        <h2>{figure.title}</h2>
        <SaveMenu file={name} title={figure.title} svg={() => figureSvg(figure, within)} csv={() => figureCsv(figure)}>
          <button role="menuitem" onClick={() => (asTable.value = !asTable.value)}>{asTable.value ? t("figure.drawn") : t("figure.table")}</button>
          {range !== null && onRange && <button role="menuitem" onClick={() => onRange(null)}>{t("figure.whole")}</button>}
        </SaveMenu>
      </header>
      {asTable.value ? (
        <FigureTable figure={figure} />
      ) : (
        <div class="plot" ref={holder} tabIndex={0} role="img" aria-label={`${figure.title}: ${figure.lines.map((line) => line.label).join(", ")}. ${t("figure.keys")}`} onKeyDown={onKey} />
      )}
      <figcaption class="legend">
        <span class="number">{i === null || figure.x.values[i] === undefined ? axisTitle(figure.x) : show(figure.x.values[i], figure.x.quantity)}</span>
        {(figure.bands ?? []).filter((band, k, all) => all.findIndex((one) => one.label === band.label) === k).map((band) => (
          <span key={band.label}>
            <svg viewBox="0 0 22 8" aria-hidden="true"><path d="M0 0h22v8h-22z" fill={`var(--line-${band.colour})`} fill-opacity="0.25" /></svg>
            {band.label}
          </span>
        ))}
        {figure.lines.map((line) => (
          <span key={line.label}>
            <svg viewBox="0 0 22 8" aria-hidden="true">
              <path d="M0 4h22" stroke={`var(--line-${line.colour})`} stroke-width="2" stroke-dasharray={line.dash?.join(" ")} />
            </svg>
            {line.label}
            {i !== null && <b class="number">{legendValue(figure, line.values[i])}</b>}
          </span>
        ))}
      </figcaption>
    </figure>
  );
}

/** 0.01, 1, 100; beyond that 10⁻⁵. */
function decadeText(v: number): string {
  const power = Math.round(Math.log10(v));
  return power < -3 || power > 4 ? `10${superscript(power)}` : String(Number(v.toPrecision(6)));
}

const isDecade = (v: number) => Math.abs(Math.log10(v) - Math.round(Math.log10(v))) < 1e-6;

function decades(_: uPlot, __: number, from: number, to: number): number[] {
  const first = Math.ceil(Math.log10(from) - 1e-9);
  const last = Math.floor(Math.log10(to) + 1e-9);
  const every = Math.max(1, Math.ceil((last - first) / 6));
  return Array.from({ length: Math.floor((last - first) / every) + 1 }, (_, i) => 10 ** (first + i * every));
}

function dataOf(f: FigureNumbers): uPlot.AlignedData {
  const y = (v: number | null) => {
    if (v === null) return null;
    const value = convert(v, f.y.quantity);
    return f.y.logarithmic && value <= 0 ? null : value;
  };
  return [f.x.values.map((v) => convert(v, f.x.quantity)), ...f.lines.map((line) => line.values.map(y))];
}

function FigureTable({ figure }: { figure: FigureNumbers }) {
  const unit = figure.y.unit ?? unitOf(figure.y.quantity);
  return (
    <div class="scroll" tabIndex={0} role="group" aria-label={figure.title}>
      <table>
        <thead>
          <tr>
            <th class="n">{axisTitle(figure.x)}</th>
            {figure.lines.map((line) => <th class="n" key={line.label}>{unit === "" ? line.label : `${line.label}, ${unit}`}</th>)}
          </tr>
        </thead>
        <tbody>
          {figure.x.values.map((x, i) => (
            <tr key={i}>
              <td class="n">{show(x, figure.x.quantity)}</td>
              {figure.lines.map((line) => <td class="n" key={line.label}>{legendValue(figure, line.values[i])}</td>)}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
