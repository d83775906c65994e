/* The design space: shelf temperature against chamber pressure, what limits there, and how long primary drying takes. */
import { useSignal } from "@preact/signals";
import { useId } from "preact/hooks";
import type { RecipeCell, RecipeSpace } from "../api/types";
import { convert, duration, number, show, unitOf } from "../store/quantity";
import { t } from "../text/text";
import { Axis, scale, WideDrawing } from "./wide_drawing";
import { csvText, ticks } from "./figure";
import { fillOf, type PatternName, Patterns } from "./patterns";
import type { SetPoint } from "./recipe_drawing";

type Bound = RecipeCell["breaks"];
const fills: Partial<Record<Bound, PatternName>> = { product: "rising", glass: "falling", choke: "cross", pressure: "lines", time: "dots" };

/* Edges between neighbouring grid values, half-way; the outer ones lie as far out. */
function edges(values: number[]): number[] {
  const inner = values.slice(1).map((v, i) => (v + values[i]!) / 2);
  return [2 * values[0]! - inner[0]!, ...inner, 2 * values[values.length - 1]! - inner[inner.length - 1]!];
}

/* Pieces of the line of one level through a grid of values (marching squares), in grid steps. */
function contour(value: (i: number, j: number) => number | null, nx: number, ny: number, level: number): [number, number, number, number][] {
  const pieces: [number, number, number, number][] = [];
  for (let j = 0; j + 1 < ny; j++)
    for (let i = 0; i + 1 < nx; i++) {
      const corners = [[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]] as const;
      const at = corners.map(([x, y]) => value(x, y));
      if (at.some((v) => v === null)) continue;
      const crossings: [number, number][] = [];
      for (let k = 0; k < 4; k++) {
        const [a, b] = [at[k]! - level, at[(k + 1) % 4]! - level];
        if (a < 0 === b < 0) continue;
        const share = a / (a - b);
        const [p, q] = [corners[k]!, corners[(k + 1) % 4]!];
        crossings.push([p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])]);
      }
      for (let k = 0; k + 1 < crossings.length; k += 2) pieces.push([...crossings[k]!, ...crossings[k + 1]!]);
    }
  return pieces;
}

/* Where the number of the n-th line stands: at one of four heights in turn, so that neighbours do not cover each other. */
function apart(pieces: [number, number, number, number][], n: number): [number, number] {
  const heights = pieces.map((piece) => piece[1]);
  const [low, high] = [Math.min(...heights), Math.max(...heights)];
  const wish = low + (high - low) * [0.5, 0.8, 0.35, 0.65][n % 4]!;
  const found = pieces.reduce((best, piece) => (Math.abs(piece[1] - wish) < Math.abs(best[1] - wish) ? piece : best));
  return [found[0], found[1]];
}

function said(space: RecipeSpace, i: number, j: number): string {
  const cell = space.cells[j * space.shelf_C.length + i]!;
  const parts = [
    `${show(space.shelf_C[i], "temperature")}, ${show(space.chamber_pressure_mbar[j], "pressure", 2)}`,
    cell.time_h === null ? t("space.not_dry") : t("space.dry", { time: duration(cell.time_h) }),
    cell.breaks === "none" ? t("space.within") : t("space.breaks", { what: t(`bound.${cell.breaks}`) }),
  ];
  if (cell.to_limit_K !== null) parts.push(t("space.to_limit", { kelvin: show(cell.to_limit_K, "temperature difference") }));
  if (cell.choke !== null) parts.push(t("space.choke", { percent: number(100 * cell.choke, 2) }));
  return parts.join("; ");
}

export function SpaceDrawing({ space, points }: { space: RecipeSpace; points: SetPoint[] }) {
  const id = useId();
  const nx = space.shelf_C.length;
  const ny = space.chamber_pressure_mbar.length;
  const at = (i: number, j: number) => space.cells[j * nx + i]!;
  const inside = space.cells.map((cell, k) => ({ cell, k })).filter(({ cell }) => cell.breaks === "none" && cell.time_h !== null);
  const best = inside.reduce<number | null>((least, { cell, k }) => (least === null || cell.time_h! < space.cells[least]!.time_h! ? k : least), null);
  const here = useSignal<number>(best ?? 0);
  const times = inside.map(({ cell }) => cell.time_h!);
  const all = space.cells.map((cell) => cell.time_h).filter((v): v is number => v !== null);
  const levels = times.length > 1 ? ticks(Math.min(...times), Math.max(...times), 7) : all.length > 1 ? ticks(Math.min(...all), Math.max(...all), 5) : [];
  const bounds = [...new Set(space.cells.map((cell) => cell.breaks))].filter((one) => one !== "none");
  const xe = edges(space.shelf_C);
  const ye = edges(space.chamber_pressure_mbar.map(Math.log10)).map((v) => 10 ** v);
  const shown = points.filter((p, i) => i === 0 || p.shelf !== points[i - 1]!.shelf || p.pressure !== points[i - 1]!.pressure);
  const [hi, hj] = [here.value % nx, Math.floor(here.value / nx)];
  const onKey = (event: KeyboardEvent) => {
    const step = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1], PageUp: [0, 5], PageDown: [0, -5] }[event.key];
    if (step === undefined) return;
    event.preventDefault();
    const i = Math.min(Math.max(hi + step[0]!, 0), nx - 1);
    const j = Math.min(Math.max(hj + step[1]!, 0), ny - 1);
    here.value = j * nx + i;
  };
  const csv = () =>
    csvText([
      ["shelf_C", "chamber_pressure_mbar", "time_h", "to_limit_K", "hottest_C", "choke", "vapour_over_set_point", "trap_surface_C", "breaks"],
      ...space.cells.map((c, k) => [space.shelf_C[k % nx], space.chamber_pressure_mbar[Math.floor(k / nx)], c.time_h, c.to_limit_K, c.hottest_C, c.choke, c.vapour_over_set_point, c.trap_surface_C, c.breaks]),
    ]);
  return (
    <WideDrawing
      name="space"
      title={t("space.title")}
      height={(width) => Math.min(430, Math.max(300, width * 0.55))}
      csv={csv}
      table={() => <SpaceTable space={space} />}
      below={
        <>
          <p class="small number" style={{ whiteSpace: "normal" }}>{said(space, hi, hj)}</p>
          <figcaption class="legend">
            {bounds.map((one) => (
              <span key={one}>
                <svg viewBox="0 0 22 12" style={{ height: "12px" }} aria-hidden="true"><rect width="22" height="12" fill={fillOf(id, fills[one] ?? "plain")} stroke="var(--rule-2)" /></svg>
                {t(`bound.${one}`)}
              </span>
            ))}
            <span>{t("space.contours")}</span>
            <span data-screen>{t("space.keys")}</span>
          </figcaption>
        </>
      }
    >
      {(width, height) => {
        const [left, right, top, bottom] = [58, width - 12, 10, height - 38];
        const x = scale(xe[0]!, xe[nx]!, left, right);
        const y = scale(ye[0]!, ye[ny]!, bottom, top, true);
        const gx = (g: number) => x(space.shelf_C[Math.floor(g)]! + (g % 1) * ((space.shelf_C[Math.floor(g) + 1] ?? 0) - space.shelf_C[Math.floor(g)]!));
        const gy = (g: number) => {
          const [a, b] = [space.chamber_pressure_mbar[Math.floor(g)]!, space.chamber_pressure_mbar[Math.floor(g) + 1] ?? 1];
          return y(a * (b / a) ** (g % 1));
        };
        const areas: { breaks: Bound; from: number; to: number; j: number }[] = [];
        for (let j = 0; j < ny; j++)
          for (let i = 0; i < nx; i++) {
            const breaks = at(i, j).breaks;
            const last = areas[areas.length - 1];
            if (last !== undefined && last.j === j && last.breaks === breaks) last.to = i;
            else areas.push({ breaks, from: i, to: i, j });
          }
        let border = "";
        for (let j = 0; j < ny; j++)
          for (let i = 0; i < nx; i++) {
            const within = at(i, j).breaks === "none";
            if (i + 1 < nx && within !== (at(i + 1, j).breaks === "none")) border += `M${x(xe[i + 1]!)} ${y(ye[j]!)}V${y(ye[j + 1]!)}`;
            if (j + 1 < ny && within !== (at(i, j + 1).breaks === "none")) border += `M${x(xe[i]!)} ${y(ye[j + 1]!)}H${x(xe[i + 1]!)}`;
          }
        const lines = levels.filter((_, k) => width >= 480 || k % 2 === 0).map((level) => ({ level, pieces: contour((i, j) => at(i, j).time_h, nx, ny, level) })).filter((one) => one.pieces.length > 0);
        const pick = (event: PointerEvent) => {
          const frame = (event.currentTarget as SVGElement).ownerSVGElement!.getBoundingClientRect();
          const [v, p] = [x.back(event.clientX - frame.left), y.back(event.clientY - frame.top)];
          const i = xe.findIndex((edge) => edge > v) - 1;
          const j = ye.findIndex((edge) => edge > p) - 1;
          if (i >= 0 && j >= 0) here.value = j * nx + i;
        };
        const decades = Array.from({ length: 24 }, (_, k) => ([1, 2, 5][k % 3]! * 10 ** (Math.floor(k / 3) - 3)) / convert(1, "pressure")).filter((p) => p >= ye[0]! && p <= ye[ny]!);
        const zero = convert(0, "temperature");
        const back = (v: number) => (v - zero) / (convert(1, "temperature") - zero);
        return (
          <>
            <Patterns id={id} names={["rising", "falling", "cross", "lines", "dots", "plain"]} />
            <Axis side="bottom" at={ticks(convert(xe[0]!, "temperature"), convert(xe[nx]!, "temperature"), width < 480 ? 5 : 9)} scale={(v) => x(back(v))} from={top} to={bottom} edge={bottom} title={`${t("form.shelf")}, ${unitOf("temperature")}`} />
            <Axis side="left" at={decades} scale={y} from={left} to={right} edge={(top + bottom) / 2} title={`${t("form.pressure")}, ${unitOf("pressure")}`} text={(v) => String(Number(convert(v, "pressure").toPrecision(3)))} />
            {areas.map(({ breaks, from, to, j }) => (
              <rect key={`${j} ${from}`} x={x(xe[from]!)} width={x(xe[to + 1]!) - x(xe[from]!)} y={y(ye[j + 1]!)} height={y(ye[j]!) - y(ye[j + 1]!) + 0.3} fill={breaks === "none" ? "var(--accent-wash)" : fillOf(id, fills[breaks] ?? "plain")} opacity={breaks === "none" ? 0.8 : 0.75} />
            ))}
            <path d={border} fill="none" stroke="var(--ink)" stroke-width="1.8" />
            {lines.map(({ level, pieces }, n) => {
              const marked = pieces.filter(([i, j]) => at(Math.round(i), Math.round(j)).breaks === "none");
              const [lx, ly] = apart(marked.length > 0 ? marked : pieces, n);
              return (
                <g key={level}>
                  <path d={pieces.map(([a, b, c, d]) => `M${gx(a)} ${gy(b)}L${gx(c)} ${gy(d)}`).join("")} fill="none" stroke="var(--line-2)" stroke-width="1.2" />
                  <text x={gx(lx)} y={gy(ly) + 4} text-anchor="middle" font-size="11" fill="var(--line-2)" stroke="var(--sheet)" stroke-width="4" paint-order="stroke">{duration(level)}</text>
                </g>
              );
            })}
            {shown.length > 1 && <path d={shown.map((p, i) => `${i === 0 ? "M" : "L"}${x(p.shelf)} ${p.pressure === null ? bottom : y(Math.min(Math.max(p.pressure, ye[0]!), ye[ny]!))}`).join("")} fill="none" stroke="var(--line-1)" stroke-width="1.4" stroke-dasharray="4 3" />}
            {shown.map((p, i) => {
              const px = Math.min(Math.max(x(p.shelf), left), right);
              const py = p.pressure === null ? bottom : y(Math.min(Math.max(p.pressure, ye[0]!), ye[ny]!));
              return (
                <g key={i}>
                  <circle cx={px} cy={py} r="8" fill="var(--sheet)" stroke="var(--line-1)" stroke-width="1.6" />
                  <text x={px} y={py + 4} text-anchor="middle" font-size="11" font-weight="600" fill="var(--ink)">{points.indexOf(p) + 1}</text>
                </g>
              );
            })}
            <g data-screen class="space-cursor" tabindex={0} role="slider" aria-label={t("space.cell")} aria-valuenow={here.value} aria-valuemin={0} aria-valuemax={nx * ny - 1} aria-valuetext={said(space, hi, hj)} onKeyDown={onKey} onPointerMove={pick} onPointerDown={pick}>
              <rect x={left} y={top} width={right - left} height={bottom - top} fill="transparent" />
              <path d={`M${x(space.shelf_C[hi]!)} ${top}V${bottom}M${left} ${y(space.chamber_pressure_mbar[hj]!)}H${right}`} stroke="var(--ink-2)" stroke-dasharray="3 3" pointer-events="none" />
              <circle cx={x(space.shelf_C[hi]!)} cy={y(space.chamber_pressure_mbar[hj]!)} r="4" fill="none" stroke="var(--ink)" stroke-width="2" pointer-events="none" />
            </g>
          </>
        );
      }}
    </WideDrawing>
  );
}

/* Every fifth column and every fourth row of the grid. */
function SpaceTable({ space }: { space: RecipeSpace }) {
  const nx = space.shelf_C.length;
  const some = <T,>(values: T[], every: number) => values.map((value, k) => ({ value, k })).filter(({ k }) => k % every === 0 || k === values.length - 1);
  return (
    <div class="scroll" tabIndex={0} role="region" aria-label={t("space.title")}>
      <table>
        <thead>
          <tr>
            <th class="n">{`${t("form.pressure")} / ${t("form.shelf")}`}</th>
            {some(space.shelf_C, 5).map(({ value, k }) => <th class="n" key={k}>{show(value, "temperature")}</th>)}
          </tr>
        </thead>
        <tbody>
          {some(space.chamber_pressure_mbar, 4).map(({ value, k: j }) => (
            <tr key={j}>
              <th class="n" scope="row">{show(value, "pressure", 2)}</th>
              {some(space.shelf_C, 5).map(({ k: i }) => {
                const cell = space.cells[j * nx + i]!;
                return (
                  <td class="n" key={i}>
                    {duration(cell.time_h)}
                    {cell.breaks !== "none" && <><br /><small class="faint">{t(`bound.${cell.breaks}`)}</small></>}
                  </td>
                );
              })}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  );
}
