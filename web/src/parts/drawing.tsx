/* A drawing of our own, inline SVG: with a title, saved as SVG and PNG, its numbers as CSV. */
import type { ComponentChildren } from "preact";
import { useRef } from "preact/hooks";
import { convert, type Quantity, unitOf } from "../store/quantity";
import { axisTitle, figureCsv, type FigureNumbers, standalone, ticks } from "./figure";
import { SaveMenu } from "./save_menu";

interface Given {
  /** Name of the files. */
  name: string;
  title: string;
  /** What one sees in it, for those who do not. */
  described: string;
  width: number;
  height: number;
  csv: () => string;
  children: ComponentChildren;
}

export function Drawing({ name, title, described, width, height, csv, children }: Given) {
  const svg = useRef<SVGSVGElement>(null);
  return (
    <figure class="figure">
      <header>
        <h3>{title}</h3>
        <SaveMenu file={name} title={title} svg={() => standalone(svg.current!, title)} csv={csv} />
      </header>
      <svg ref={svg} class="drawing" viewBox={`0 0 ${width} ${height}`} role="img" aria-label={described} style={{ maxWidth: `${width * 1.4}px` }}>
        <title>{described}</title>
        {children}
      </svg>
    </figure>
  );
}

interface Axis {
  label: string;
  quantity: Quantity;
  unit?: string;
  logarithmic?: boolean;
}

/** A curve of few points as it is entered, with straight lines between them; points in the server's units. */
export function CurveDrawing({ name, title, x, y, points }: { name: string; title: string; x: Axis; y: Axis; points: [number, number][] }) {
  const [width, height, left, right, top, bottom] = [380, 190, 46, 14, 8, 40];
  const shown = points
    .map(([a, b]) => [convert(a, x.quantity), convert(b, y.quantity)] as [number, number])
    .filter(([a]) => !x.logarithmic || a > 0);
  const scale = (v: number) => (x.logarithmic ? Math.log10(v) : v);
  let x0 = Math.min(...shown.map(([a]) => scale(a)));
  let x1 = Math.max(...shown.map(([a]) => scale(a)));
  if (!(x1 > x0)) [x0, x1] = [x0 - 1, x0 + 1];
  const most = Math.max(...shown.map(([, b]) => b), 0);
  const y1 = most > 0 ? most * 1.08 : 1;
  const px = (v: number) => left + ((scale(v) - x0) / (x1 - x0)) * (width - left - right);
  const py = (v: number) => height - bottom - (v / y1) * (height - top - bottom);
  const decades = Math.ceil((x1 - x0) / 6);
  const xTicks = x.logarithmic
    ? Array.from({ length: Math.floor(x1) - Math.ceil(x0) + 1 }, (_, i) => Math.ceil(x0) + i).filter((p) => p % Math.max(decades, 1) === 0).map((p) => 10 ** p)
    : ticks(x0, x1, 6);
  const text = (v: number) => Number(v.toPrecision(4)).toString().replace("-", "−");
  const numbers: FigureNumbers = {
    key: name, title,
    x: { ...x, values: points.map(([a]) => a) },
    y, lines: [{ label: y.label, colour: 1, values: points.map(([, b]) => b) }],
  };
  const unit = (axis: Axis) => axis.unit ?? unitOf(axis.quantity);
  const described = `${title}: ${shown.map(([a, b]) => `${text(a)} ${unit(x)}: ${text(b)} ${unit(y)}`).join("; ")}`;
  return (
    <Drawing name={name} title={title} described={described} width={width} height={height} csv={() => figureCsv(numbers)}>
      <rect width={width} height={height} fill="var(--sheet)" />
      <g font-size="10.5" fill="var(--ink-2)">
        {ticks(0, y1, 4).map((v) => (
          <g key={v}>
            <path d={`M${left} ${py(v)}H${width - right}`} stroke="var(--rule)" />
            <text x={left - 5} y={py(v) + 3.5} text-anchor="end">{text(v)}</text>
          </g>
        ))}
        {xTicks.map((v) => (
          <g key={v}>
            <path d={`M${px(v)} ${top}V${height - bottom}`} stroke="var(--rule)" />
            <text x={px(v)} y={height - bottom + 15} text-anchor="middle">{text(v)}</text>
          </g>
        ))}
        <text x={(left + width - right) / 2} y={height - bottom + 32} text-anchor="middle">{axisTitle(x)}</text>
        <text transform={`translate(10 ${(top + height - bottom) / 2}) rotate(-90)`} text-anchor="middle">{axisTitle(y)}</text>
      </g>
      <path d={shown.map(([a, b], i) => `${i === 0 ? "M" : "L"}${px(a).toFixed(1)} ${py(b).toFixed(1)}`).join("")} fill="none" stroke="var(--line-1)" stroke-width="1.8" />
      {shown.map(([a, b], i) => <circle key={i} cx={px(a)} cy={py(b)} r="3" fill="var(--sheet)" stroke="var(--line-1)" stroke-width="1.6" />)}
    </Drawing>
  );
}
