/* A drawing of our own as inline SVG: as wide as its place, saved as SVG and PNG, its numbers as CSV. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useLayoutEffect, useRef } from "preact/hooks";
import { t } from "../text/text";
import { standalone } from "./figure";
import { SaveMenu } from "./save_menu";

interface Given {
  /** Short name for files. */
  name: string;
  title: string;
  /** Height for a width, both px. */
  height: (width: number) => number;
  csv: () => string;
  /** Rows in place of the drawing, where the reader asks for them. */
  table?: () => ComponentChildren;
  /** What a screen reader is told of the whole; without it the parts speak for themselves. */
  told?: string;
  children: (width: number, height: number) => ComponentChildren;
  below?: ComponentChildren;
}

export function WideDrawing({ name, title, height, csv, table, told, children, below }: Given) {
  const box = useRef<HTMLDivElement>(null);
  const width = useSignal(0);
  const asTable = useSignal(false);
  useLayoutEffect(() => {
    const div = box.current!;
    const measure = () => {
      if (div.clientWidth > 0) width.value = div.clientWidth;
    };
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(div);
    return () => observer.disconnect();
  }, []);
  const [w, h] = [width.value, height(width.value)];
  return (
    <figure class="figure">
      <header>
        <h2>{title}</h2>
        <SaveMenu file={`dryfront-${name}`} title={title} svg={asTable.value ? undefined : () => standalone(box.current!.querySelector("svg")!, title)} csv={csv}>
          {table !== undefined && <button role="menuitem" onClick={() => (asTable.value = !asTable.value)}>{asTable.value ? t("figure.drawn") : t("figure.table")}</button>}
        </SaveMenu>
      </header>
      <div ref={box} style={{ minWidth: 0 }}>
        {asTable.value ? (
          table?.()
        ) : (
          w > 0 && (
            <svg class="own" viewBox={`0 0 ${w} ${h}`} width={w} height={h} font-size="12" {...(told === undefined ? { role: "group", "aria-label": title } : { role: "img", "aria-label": told })}>
              <title>{title}</title>
              {children(w, h)}
            </svg>
          )
        )}
      </div>
      {!asTable.value && below}
    </figure>
  );
}

export interface Scale {
  (value: number): number;
  back: (px: number) => number;
}

/** A straight (or logarithmic) way from values to px. */
export function scale(from: number, to: number, start: number, end: number, logarithmic = false): Scale {
  const f = logarithmic ? Math.log10 : (v: number) => v;
  const [a, b] = [f(from), f(to)];
  const there = (value: number) => start + ((f(value) - a) / (b - a || 1)) * (end - start);
  const back = (px: number) => {
    const v = a + ((px - start) / (end - start || 1)) * (b - a);
    return logarithmic ? 10 ** v : v;
  };
  return Object.assign(there, { back });
}

const clean = (value: number) => String(Number(value.toPrecision(6))).replace("-", "−");

/** Gridlines and numbers along one side. */
export function Axis(props: { side: "left" | "bottom"; at: number[]; scale: (v: number) => number; from: number; to: number; edge: number; title: string; text?: (v: number) => string }) {
  const { side, at, scale: s, from, to, edge, title, text = clean } = props;
  return (
    <g aria-hidden="true" fill="var(--ink-2)" font-size="11.5">
      {at.map((value) =>
        side === "left" ? (
          <g key={value}>
            <path d={`M${from} ${s(value)}H${to}`} stroke="var(--rule)" />
            <text x={from - 6} y={s(value) + 4} text-anchor="end">{text(value)}</text>
          </g>
        ) : (
          <g key={value}>
            <path d={`M${s(value)} ${from}V${to}`} stroke="var(--rule)" />
            <text x={s(value)} y={edge + 15} text-anchor="middle">{text(value)}</text>
          </g>
        ),
      )}
      {side === "left" ? (
        <text transform={`translate(${from - 40} ${edge}) rotate(-90)`} text-anchor="middle">{title}</text>
      ) : (
        <text x={(s(at[0] ?? 0) + s(at[at.length - 1] ?? 0)) / 2} y={edge + 31} text-anchor="middle">{title}</text>
      )}
    </g>
  );
}
