/* Ceilings as files: one drawing of all that is shown, and its numbers. */
import { type ComponentChildren, render } from "preact";
import type { CeilingsOne } from "../api/types";
import { show } from "../store/quantity";
import { t } from "../text/text";
import { Strip, stripHeight, StripPatterns, stripTitle, upTo } from "./ceiling_strip";
import { csvText, onPaper } from "./figure";
import { SaveMenu } from "./save_menu";

const spaced = (key: string) => key.replace(/_/g, " ");

interface Named {
  name: string;
  answer: CeilingsOne;
}

/** Saves the ceilings of some solvents on some dryers; `mine`: where the reader's sample lies, % v/v. */
export function CeilingsMenu({ of, solvents, solvent, mine, children }: { of: Named[]; solvents: string[]; solvent?: string | undefined; mine?: number | undefined; children?: ComponentChildren }) {
  return <SaveMenu file="dryfront-ceilings" title={t("ceilings.title")} svg={() => drawing(of, solvents, solvent, mine)} csv={() => numbers(of, solvents)}>{children}</SaveMenu>;
}

export function loadText(answer: CeilingsOne): string {
  const load = answer.reference_load;
  const place = load.place === "shelf" ? t("form.place.shelf") : t("form.place.manifold");
  const text = `${load.count} × ${spaced(load.container)}, ${Number(load.fill_mL.toPrecision(3))} mL, ${load.lie === "shell" ? t("form.lie.shell") + ", " : ""}${place}`;
  const points = load.recipe.map((point) => `${show(point.shelf_C, "temperature")} (${show(point.time_h, "time", 2)})`).join(", ");
  return points === "" ? text : `${text}: ${points}`;
}

/** All of it as one SVG drawing, colours written out. */
function drawing(all: Named[], solvents: string[], solvent: string | undefined, mine: number | undefined): string {
  const [left, gap, column, row, head] = [150, 30, 360, 52, 92];
  const width = left + all.length * (column + gap);
  const height = head + solvents.length * row + 46;
  const holder = document.createElement("div");
  render(
    <svg xmlns="http://www.w3.org/2000/svg" viewBox={`0 0 ${width} ${height}`} width={width} height={height} font-family="DejaVu Sans, Arial, sans-serif" font-size="12" fill="var(--ink)">
      <title>{t("ceilings.title")}</title>
      <StripPatterns />
      <rect width={width} height={height} fill="var(--sheet)" />
      <text x="12" y="24" font-size="14" font-weight="600">{t("ceilings.title")}</text>
      {all.map(({ name, answer }, i) => {
        const x = left + i * (column + gap);
        return (
          <g key={name}>
            <text x={x} y="42" font-weight="600">{name}</text>
            {(loadText(answer).match(/.{1,64}(?:\s|$)/g) ?? []).slice(0, 2).map((line, k) => <text key={k} x={x} y={56 + 13 * k} font-size="9.5">{line}</text>)}
            {[0, 20, 40, 60, 80, 100].map((p) => <text key={p} x={x + (p / 100) * column} y="87" font-size="10" text-anchor={p === 0 ? "start" : p === 100 ? "end" : "middle"}>{p === 100 ? "100 %" : p}</text>)}
            {solvents.map((key, k) => {
              const ceiling = answer.ceilings.find((one) => one.solvent === key);
              if (ceiling === undefined) return null;
              const y = head + k * row;
              const words = (["rigid", "wetted"] as const).map((one) => `${t(`standing.${one}`)} ${upTo(ceiling[`${one}_from_percent_v_v`], ceiling[`${one}_up_to_percent_v_v`], ceiling[`${one}_sigma_percent_v_v`])}`);
              return (
                <g key={key}>
                  <Strip of={ceiling} title={stripTitle(name, ceiling)} mine={key === solvent ? mine : undefined} place={{ x, y, width: column }} />
                  <text x={x} y={y + stripHeight + 15} font-size="10.5">{words.join("; ")}</text>
                </g>
              );
            })}
          </g>
        );
      })}
      {solvents.map((key, k) => <text key={key} x="12" y={head + k * row + 15}>{spaced(key)}</text>)}
      <g transform={`translate(12 ${height - 30})`} font-size="10.5">
        <rect width="34" height={stripHeight} fill="url(#strip-rigid)" /><text x="42" y="14">{t("standing.rigid")}</text>
        <g transform="translate(100 0)"><rect width="34" height={stripHeight} fill="url(#strip-wetted)" stroke="var(--rule-2)" /><text x="42" y="14">{t("standing.wetted")}</text></g>
        <g transform="translate(210 0)"><rect width="34" height={stripHeight} fill="none" stroke="var(--rule-2)" /><text x="42" y="14">{t("ceilings.neither")}</text></g>
      </g>
    </svg>,
    holder,
  );
  const text = holder.innerHTML;
  render(null, holder);
  return onPaper(text);
}

function numbers(all: Named[], solvents: string[]): string {
  const columns = ["solvent", "rigid_from_percent_v_v", "rigid_up_to_percent_v_v", "rigid_sigma_percent_v_v", "rigid_binds", "wetted_from_percent_v_v", "wetted_up_to_percent_v_v", "wetted_sigma_percent_v_v", "wetted_binds", "grade", "caution"] as const;
  const rows = all.flatMap(({ name, answer }) =>
    solvents.flatMap((key) => answer.ceilings.filter((one) => one.solvent === key)).map((one) => [name, answer.dryer, loadText(answer), ...columns.map((c) => one[c])]),
  );
  return csvText([["dryer", "dryer_name", "reference_load", ...columns], ...rows]);
}
