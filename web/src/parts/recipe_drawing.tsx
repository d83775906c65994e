/* A recipe as a drawing that can be edited: shelf temperature and chamber pressure over time, a point for each set point.
   Points are dragged, or moved with the arrow keys; what is written into the job keeps the units that stand there. */
import { useSignal } from "@preact/signals";
import { useContext, useEffect, useRef } from "preact/hooks";
import { convert, show, unitOf } from "../store/quantity";
import { Yaml } from "../store/yaml";
import { t } from "../text/text";
import { Axis, scale, type Scale, WideDrawing } from "./wide_drawing";
import { amountOf, FormContext, pathText, writtenLike } from "./fields";
import { csvText, ticks } from "./figure";

const list = ["recipe"];
const firstShelf = -15; // °C, what a recipe begins with where it says nothing (docs/job.md)

export interface SetPoint {
  /** h, °C, mbar; pressure null: as low as the dryer gets. */
  time: number;
  shelf: number;
  pressure: number | null;
}

/** A recipe to be seen behind the one that is edited. */
export interface Behind {
  label: string;
  points: SetPoint[];
}

/** The set points of a job's text; null where one cannot be read. What is left out is as before. */
export function readRecipe(yaml: Yaml): SetPoint[] | null {
  const points: SetPoint[] = [];
  for (let i = 0; i < yaml.length(list); i++) {
    const at = (field: string) => yaml.at([...list, i, field]);
    const before = points[i - 1];
    const time = at("time") === "" && i === 0 ? 0 : amountOf(at("time"), "time");
    const shelf = at("shelf_temperature") === "" ? (before?.shelf ?? firstShelf) : amountOf(at("shelf_temperature"), "temperature");
    const stated = at("chamber_pressure");
    const pressure = stated === "" ? (before?.pressure ?? null) : amountOf(stated, "pressure");
    if (time === null || shelf === null || (stated !== "" && pressure === null)) return null;
    points.push({ time, shelf, pressure: pressure === 0 ? null : pressure });
  }
  return points;
}

type Kind = "shelf" | "pressure";

interface View {
  until: number;
  shelf: [number, number];
  pressure: [number, number];
}

/* What the axes hold: all points, the recipes behind and the run, to whole tens. */
function viewOf(all: SetPoint[], until: number): View {
  const shelves = all.map((p) => p.shelf);
  const held = all.map((p) => p.pressure).filter((p): p is number => p !== null);
  return {
    until: Math.max(until > 0 ? until : 24, ...all.map((p) => p.time)) * 1.04,
    shelf: [Math.floor((Math.min(...shelves) - 4) / 10) * 10, Math.ceil((Math.max(...shelves) + 4) / 10) * 10],
    pressure: [Math.min(0.01, ...held.map((p) => p / 2)), Math.max(1, ...held.map((p) => p * 1.5))],
  };
}

const snap = (value: number, step: number) => Math.round(value / step) * step;
const clamp = (value: number, from: number, to: number) => Math.min(Math.max(value, from), to);

/* The next pressure that reads well, up or down; null: none. */
function pressureStep(from: number | null, up: number, fine: boolean): number | null {
  if (from === null) return up > 0 ? 0.02 : null;
  const step = fine ? 0.001 : from + up * 1e-9 > 0.05 ? 0.01 : 0.005;
  const next = snap(from + up * step, fine ? 0.001 : 0.005);
  return next < 0.0045 ? null : next;
}

export function RecipeDrawing({ pressures, behind, run, cursor }: { pressures: boolean; behind: Behind[]; run: number | null; cursor: number | null }) {
  const { yaml, edit } = useContext(FormContext);
  const points = readRecipe(yaml);
  const held = useSignal<{ kind: Kind; i: number; view: View } | null>(null);
  const focus = useRef("");
  const latest = useRef({ yaml, points });
  latest.current = { yaml, points };
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    if (focus.current === "") return;
    box.current?.querySelector<SVGElement>(`[data-point="${focus.current}"]`)?.focus();
    focus.current = "";
  });
  if (points === null) return <p class="note warning">{t("recipe.not_drawn")}</p>;
  if (points.length === 0) return null;
  const all = [...points, ...behind.flatMap((one) => one.points)];
  const view = held.value?.view ?? viewOf(all, run ?? 0);

  const write = (i: number, change: Partial<SetPoint>, kind: Kind) => {
    const now = latest.current;
    let text = now.yaml.text;
    const put = (field: string, value: string) => {
      text = new Yaml(text).with([...list, i, field], value);
    };
    const old = now.points![i]!;
    if (change.time !== undefined && change.time !== old.time) put("time", writtenLike(change.time, "time", now.yaml.at([...list, i, "time"])));
    if (change.shelf !== undefined && change.shelf !== old.shelf) put("shelf_temperature", writtenLike(change.shelf, "temperature", now.yaml.at([...list, i, "shelf_temperature"])));
    if (change.pressure !== undefined && change.pressure !== old.pressure) {
      const before = i === 0 ? null : now.points![i - 1]!.pressure;
      const like = now.yaml.at([...list, i, "chamber_pressure"]);
      put("chamber_pressure", change.pressure !== null ? writtenLike(change.pressure, "pressure", like) : before === null ? "" : "0 mbar");
    }
    if (text !== now.yaml.text) edit(text, `${pathText([...list, i])} drawn ${kind}`);
  };
  /* Between its neighbours, six minutes apart at least; the first stays at the start. */
  const between = (i: number, time: number) => (i === 0 ? 0 : clamp(time, points[i - 1]!.time + 0.1, (points[i + 1]?.time ?? Infinity) - 0.1));
  const insert = (after: number, time?: number) => {
    const [a, b] = [points[after]!, points[after + 1]];
    const at = time ?? (b === undefined ? a.time + 5 : snap((a.time + b.time) / 2, 0.1));
    const shelf = b === undefined ? a.shelf : a.shelf + ((at - a.time) / (b.time - a.time || 1)) * (b.shelf - a.shelf);
    focus.current = `shelf ${after + 1}`;
    edit(yaml.withEntryAt(list, after + 1, { time: writtenLike(Number(at.toFixed(1)), "time", yaml.at([...list, after, "time"])), shelf_temperature: writtenLike(snap(shelf, 0.5), "temperature", yaml.at([...list, after, "shelf_temperature"])) }), "");
  };
  const removePoint = (kind: Kind, i: number) => {
    if (points.length < 2) return;
    const order = points.map((_, k) => k).filter((k) => k !== i);
    let text = yaml.withOrder(list, order);
    /* The new first one begins the recipe. */
    if (i === 0) text = new Yaml(text).with([...list, 0, "time"], "0 h");
    focus.current = `${kind} ${Math.min(i, points.length - 2)}`;
    edit(text, "");
  };
  const onKey = (kind: Kind, i: number) => (event: KeyboardEvent) => {
    const p = points[i]!;
    const fine = event.shiftKey;
    const up = { ArrowUp: 1, ArrowDown: -1, PageUp: 5, PageDown: -5 }[event.key];
    const on = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (up !== undefined && kind === "shelf") write(i, { shelf: snap(p.shelf + up * (fine ? 0.1 : 1), fine ? 0.1 : 0.5) }, kind);
    else if (up !== undefined) {
      let pressure = p.pressure;
      for (let k = 0; k < Math.abs(up); k++) pressure = pressureStep(pressure, Math.sign(up), fine);
      write(i, { pressure }, kind);
    } else if (on !== undefined) write(i, { time: between(i, snap(p.time + on * (fine ? 0.1 : 0.5), 0.1)) }, kind);
    else if (event.key === "+" || event.key === "Insert") insert(i);
    else if (event.key === "Delete" || event.key === "Backspace") removePoint(kind, i);
    else return;
    event.preventDefault();
  };

  /* A pressure that is stated is shown, even where the dryer cannot hold it. */
  const both = pressures || points.some((p) => p.pressure !== null);
  const kinds: Kind[] = both ? ["shelf", "pressure"] : ["shelf"];
  const left = 58;
  const gap = 28;
  const bottom = 38;
  return (
    <div ref={box}>
      <WideDrawing
        name="recipe"
        title={t("recipe.drawing")}
        height={(width) => (both ? (width < 480 ? 340 : 380) : 260)}
        csv={() => csvText([["recipe", "time, h", "shelf, °C", "chamber pressure, mbar"], ...[{ label: t("recipe.drawing"), points }, ...behind].flatMap((one) => one.points.map((p) => [one.label, p.time, p.shelf, p.pressure]))])}
        below={
          <figcaption class="legend">
            {behind.map((one, k) => (
              <span key={one.label}>
                <svg viewBox="0 0 22 8" aria-hidden="true"><path d="M0 4h22" stroke={`var(--line-${k === 0 ? 3 : 4})`} stroke-width="2" stroke-dasharray="5 3" /></svg>
                {one.label}
              </span>
            ))}
            <span data-screen>{t("recipe.keys")}</span>
          </figcaption>
        }
      >
        {(width, height) => {
          const right = width - 12;
          const split = both ? Math.round((height - bottom - gap) * 0.62) : height - bottom;
          const x = scale(0, view.until, left, right);
          const shelf = scale(view.shelf[0], view.shelf[1], split, 10);
          const lane = height - bottom - 9;
          const pressure = scale(view.pressure[0], view.pressure[1], lane - 16, split + gap, true);
          const yOf = (kind: Kind, p: SetPoint) => (kind === "shelf" ? shelf(p.shelf) : p.pressure === null ? lane : pressure(p.pressure));
          const pathOf = (kind: Kind, some: SetPoint[]) => {
            let d = "";
            some.forEach((p, i) => {
              const before = some[i - 1];
              /* From none to one, or back, there is no way between: a step. */
              if (kind === "pressure" && before !== undefined && (before.pressure === null) !== (p.pressure === null)) d += `H${x(p.time)}`;
              d += `${i === 0 ? "M" : "L"}${x(p.time)} ${yOf(kind, p)}`;
            });
            return `${d}H${right}`;
          };
          const timeUnit = convert(1, "time");
          const down = (kind: Kind, i: number) => (event: PointerEvent) => {
            if (event.button !== 0) return;
            event.preventDefault();
            const g = event.currentTarget as SVGGElement;
            const svg = g.ownerSVGElement!;
            g.setPointerCapture(event.pointerId);
            g.focus();
            held.value = { kind, i, view };
            let last = 0;
            const place = (now: PointerEvent, always: boolean) => {
              if (!always && now.timeStamp - last < 70) return;
              last = now.timeStamp;
              const frame = svg.getBoundingClientRect();
              const [px, py] = [now.clientX - frame.left, now.clientY - frame.top];
              const time = Number(between(i, snap(x.back(px), view.until > 30 ? 0.5 : 0.1)).toFixed(1));
              if (kind === "shelf") write(i, { time, shelf: snap(clamp(shelf.back(py), view.shelf[0], view.shelf[1]), 1) }, kind);
              else {
                const p = pressure.back(py);
                write(i, { time, pressure: py > lane - 9 ? null : Number(clamp(p, view.pressure[0], view.pressure[1]).toPrecision(p < 0.1 ? 1 : 2)) }, kind);
              }
            };
            const move = (now: PointerEvent) => place(now, false);
            const end = (now: PointerEvent) => {
              if (now.type === "pointerup") place(now, true);
              held.value = null;
              g.removeEventListener("pointermove", move);
              g.removeEventListener("pointerup", end);
              g.removeEventListener("pointercancel", end);
            };
            g.addEventListener("pointermove", move);
            g.addEventListener("pointerup", end);
            g.addEventListener("pointercancel", end);
          };
          const addAt = (event: MouseEvent) => {
            const frame = (event.currentTarget as SVGElement).ownerSVGElement!.getBoundingClientRect();
            const time = snap(x.back(event.clientX - frame.left), 0.1);
            const after = points.filter((p) => p.time < time - 0.05).length - 1;
            if (after >= 0 && points.every((p) => Math.abs(p.time - time) > 0.05)) insert(after, time);
          };
          const shelfTicks = ticks(convert(view.shelf[0], "temperature"), convert(view.shelf[1], "temperature"), 6);
          const decades = Array.from({ length: 11 }, (_, k) => 10 ** (k - 4) / convert(1, "pressure")).filter((p) => p >= view.pressure[0] * 0.999 && p <= view.pressure[1] * 1.001);
          return (
            <>
              <Axis side="bottom" at={ticks(0, view.until * timeUnit, width < 480 ? 5 : 9)} scale={(v) => x(v / timeUnit)} from={10} to={height - bottom} edge={height - bottom} title={`${t("run.time")}, ${unitOf("time")}`} />
              <Axis side="left" at={shelfTicks} scale={(v) => shelf(backFrom(v))} from={left} to={right} edge={split / 2} title={`${t("form.shelf")}, ${unitOf("temperature")}`} />
              {both && (
                <>
                  <Axis side="left" at={decades} scale={pressure} from={left} to={right} edge={(split + gap + lane) / 2} title={unitOf("pressure")} text={(v) => String(Number(convert(v, "pressure").toPrecision(3)))} />
                  <text x={left - 6} y={lane + 4} text-anchor="end" fill="var(--ink-2)" font-size="11">{t("form.lowest")}</text>
                  <path d={`M${left} ${lane}H${right}`} stroke="var(--rule)" stroke-dasharray="2 3" />
                </>
              )}
              {behind.map((one, k) => (
                <g key={one.label} fill="none" stroke={`var(--line-${k === 0 ? 3 : 4})`} stroke-width="1.6" stroke-dasharray="5 3" opacity="0.9">
                  <path d={pathOf("shelf", one.points)} />
                  {both && <path d={pathOf("pressure", one.points)} />}
                </g>
              ))}
              {kinds.map((kind) => (
                <g key={kind}>
                  <path d={pathOf(kind, points)} fill="none" stroke={kind === "shelf" ? "var(--line-1)" : "var(--line-7)"} stroke-width="2.2" />
                  <path d={pathOf(kind, points)} fill="none" stroke="transparent" stroke-width="18" data-screen onDblClick={addAt} />
                  {points.map((p, i) => (
                    <Point key={i} kind={kind} i={i} p={p} x={x} y={yOf(kind, p)} last={points.length} held={held.value?.kind === kind && held.value.i === i} stated={yaml.has([...list, i, kind === "shelf" ? "shelf_temperature" : "chamber_pressure"])} onKeyDown={onKey(kind, i)} onPointerDown={down(kind, i)} />
                  ))}
                </g>
              ))}
              {cursor !== null && cursor <= view.until && <path data-screen d={`M${x(cursor)} 10V${height - bottom}`} stroke="var(--ink-3)" stroke-dasharray="4 3" pointer-events="none" />}
            </>
          );
        }}
      </WideDrawing>
    </div>
  );
}

/* A temperature of the unit shown, as the °C that the scale takes. */
function backFrom(v: number): number {
  const [zero, one] = [convert(0, "temperature"), convert(1, "temperature")];
  return (v - zero) / (one - zero);
}

function Point(props: { kind: Kind; i: number; p: SetPoint; x: Scale; y: number; last: number; held: boolean; stated: boolean; onKeyDown: (event: KeyboardEvent) => void; onPointerDown: (event: PointerEvent) => void }) {
  const { kind, i, p, x, y } = props;
  const what = kind === "shelf" ? show(p.shelf, "temperature") : p.pressure === null ? t("form.lowest") : show(p.pressure, "pressure");
  const said = `${show(p.time, "time")}, ${what}`;
  const ink = kind === "shelf" ? "var(--line-1)" : "var(--line-7)";
  const place = `translate(${x(p.time)} ${y})`;
  return (
    <g
      class="set-point"
      data-point={`${kind} ${i}`}
      transform={place}
      tabindex={0}
      role="slider"
      aria-label={t(kind === "shelf" ? "form.shelf_of" : "form.pressure_of", { number: i + 1 })}
      aria-orientation="vertical"
      aria-valuenow={kind === "shelf" ? p.shelf : (p.pressure ?? 0)}
      aria-valuetext={said}
      onKeyDown={props.onKeyDown}
      onPointerDown={props.onPointerDown}
    >
      <circle r="15" fill="transparent" data-screen />
      <circle r="5.5" fill={props.stated ? ink : "var(--sheet)"} stroke={props.stated ? "var(--sheet)" : ink} stroke-width={props.stated ? 1.5 : 2} />
      <g class="said" data-screen aria-hidden="true">
        <text y={y < 40 ? 24 : -13} text-anchor={i === 0 ? "start" : i === props.last - 1 && i > 0 ? "end" : "middle"} fill="var(--ink)" font-weight="600" stroke="var(--sheet)" stroke-width="4" paint-order="stroke">{said}</text>
      </g>
    </g>
  );
}
