/* A container's outline, to scale from its figures; the neck's own shape is not known and drawn plainly. */
import type { Container } from "../store/workspace";
import { t } from "../text/text";
import { Drawing } from "./drawing";
import { csvText } from "./figure";

export type Measures = Pick<Container, "key" | "name" | "kind" | "brim_volume_mL" | "inner_diameter_mm"> & { outer_diameter_mm?: number | null; port_diameter_mm?: number | null };

interface Outline {
  /** mm, over all. */
  width: number;
  height: number;
  inner: number;
  outer: number;
  port: number;
  /** Of the part that holds the volume to the brim. */
  body: number;
  neck: number;
}

/** What is drawn, mm. A cylinder is as high as its brim volume asks; a flask is a sphere. */
export function outlineOf(of: Measures): Outline {
  const inner = of.inner_diameter_mm;
  const outer = of.outer_diameter_mm ?? inner * 1.06;
  const port = Math.min(of.port_diameter_mm ?? inner, inner);
  const body = of.kind === "flask" ? outer : (of.brim_volume_mL * 1000) / ((Math.PI / 4) * inner * inner);
  const neck = of.kind === "flask" ? Math.max(1.6 * port, 0.25 * outer) : of.kind === "vial" ? 0.55 * port : 0;
  return { width: outer, height: body + neck + (outer - inner) / 2, inner, outer, port, body, neck };
}

export function outlinePath(of: Measures): string {
  const o = outlineOf(of);
  const wall = Math.max((o.outer - o.inner) / 2, 0.4);
  const r = o.outer / 2;
  const half = o.port / 2 + wall;
  const bottom = o.height;
  if (of.kind === "flask") {
    /* The sphere is cut where the neck stands on it. */
    const drop = r - Math.sqrt(Math.max(r * r - half * half, 0));
    return `M${r - half} 0V${o.neck + drop}A${r} ${r} 0 1 0 ${r + half} ${o.neck + drop}V0`;
  }
  if (of.kind === "vial") {
    const shoulder = o.neck + Math.min(0.22 * o.outer, 0.3 * o.body);
    return `M${r - half} 0V${o.neck}Q0 ${o.neck} 0 ${shoulder}V${bottom - 1}q0 1 1 1H${o.outer - 1}q1 0 1 -1V${shoulder}Q${o.outer} ${o.neck} ${r + half} ${o.neck}V0Z`;
  }
  if (of.kind === "tube") {
    const cone = Math.min(0.8 * o.outer, 0.3 * o.height);
    return `M0 0V${bottom - cone}L${r * 0.75} ${bottom - 1}Q${r} ${bottom + 1} ${r * 1.25} ${bottom - 1}L${o.outer} ${bottom - cone}V0`;
  }
  return `M0 0V${bottom}H${o.outer}V0`;
}

function measures(of: Measures, o: Outline): string {
  return csvText([
    ["container", "kind", "inner_diameter_mm", "outer_diameter_mm", "port_diameter_mm", "brim_volume_mL", "drawn_height_mm", "drawn_neck_mm"],
    [of.key, of.kind, o.inner, o.outer, o.port, of.brim_volume_mL, o.height, o.neck],
  ]);
}

/** `scale`: px for a mm; none: 170 px in all. With a title it can be saved. */
export function ContainerDrawing({ of, scale: given, title }: { of: Measures; scale?: number; title?: string }) {
  const o = outlineOf(of);
  const scale = given ?? 170 / Math.max(o.width, o.height);
  const bar = [1, 2, 5, 10, 20, 50, 100, 200].filter((mm) => mm * scale <= 60).pop() ?? 1;
  const width = Math.max(o.width * scale + 12, bar * scale + 56);
  const height = o.height * scale + 40;
  const said = t("container.drawn", { name: of.name || of.key, outer: Number(o.outer.toPrecision(4)), volume: Number(of.brim_volume_mL.toPrecision(4)) });
  const content = (
    <>
      <rect width={width} height={height} fill="var(--sheet)" />
      <g transform={`translate(${(width - o.width * scale) / 2} 6) scale(${scale})`}>
        <path d={outlinePath(of)} fill="var(--accent-wash)" stroke="var(--ink)" stroke-width={1.4 / scale} stroke-linejoin="round" />
      </g>
      <path d={`M6 ${height - 20}v6h${bar * scale}v-6`} fill="none" stroke="var(--ink-3)" />
      <text x={6 + bar * scale + 5} y={height - 12} font-size="10" fill="var(--ink-2)">{bar} mm</text>
    </>
  );
  if (title !== undefined) {
    return <Drawing name={`dryfront-${of.key || "container"}`} title={title} described={said} width={width} height={height} csv={() => measures(of, o)}>{content}</Drawing>;
  }
  return (
    <svg class="outline" viewBox={`0 0 ${width} ${height}`} width={width} height={height} role="img" aria-label={said}>
      <title>{said}</title>
      {content}
    </svg>
  );
}
