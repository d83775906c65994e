/* A solvent's ceilings on one dryer as a strip from 0 to 100 % v/v: rigid, wetted and neither, told apart by pattern; the
   same drawing on the screen and in a file. */
import type { CeilingsOne } from "../api/types";
import { t } from "../text/text";

export type Ceiling = CeilingsOne["ceilings"][number];

export const stripHeight = 20;

/** The patterns of parts/standing.tsx, as fills. */
export function StripPatterns() {
  return (
    <defs>
      <pattern id="strip-rigid" patternUnits="userSpaceOnUse" width="8" height={stripHeight}>
        <rect width="8" height={stripHeight} fill="var(--rigid)" />
      </pattern>
      <pattern id="strip-wetted" patternUnits="userSpaceOnUse" width="8" height={stripHeight}>
        <rect width="8" height={stripHeight} fill="var(--sheet)" />
        <rect width="8" height="9" fill="var(--wetted)" />
        <path d="M0 13q2-2.4 4 0t4 0M0 17.4q2-2.4 4 0t4 0" fill="none" stroke="var(--wetted)" stroke-width="1.3" />
      </pattern>
    </defs>
  );
}

interface Given {
  of: Ceiling;
  title: string;
  /** Where the reader's own sample lies, % v/v. */
  mine?: number | undefined;
  place?: { x: number; y: number; width: number };
}

export function Strip({ of, title, mine, place }: Given) {
  const part = (from: number | null, to: number | null, fill: string) => {
    if (to === null) return null;
    const begin = from === null || from <= 2 ? 0 : Math.min(from, 99);
    return <rect x={`${begin}%`} width={`${Math.max(to - begin, 1)}%`} height={stripHeight} fill={`url(#strip-${fill})`} />;
  };
  const band = (at: number | null, sigma: number | null) => {
    if (at === null || sigma === null) return null;
    const [x1, x2] = [`${Math.max(at - sigma, 0)}%`, `${Math.min(at + sigma, 100)}%`];
    return (
      <>
        <line x1={x1} x2={x2} y1={stripHeight / 2} y2={stripHeight / 2} stroke="var(--sheet)" stroke-width="5" />
        <line x1={x1} x2={x2} y1={stripHeight / 2} y2={stripHeight / 2} stroke="var(--ink)" stroke-width="2" />
      </>
    );
  };
  return (
    <svg class="strip" width={place?.width ?? "100%"} height={stripHeight} x={place?.x} y={place?.y} overflow="visible" role="img" aria-label={title}>
      <title>{title}</title>
      <rect width="100%" height={stripHeight} fill="var(--sheet)" />
      {part(of.wetted_from_percent_v_v, of.wetted_up_to_percent_v_v, "wetted")}
      {part(of.rigid_from_percent_v_v, of.rigid_up_to_percent_v_v, "rigid")}
      <rect width="100%" height={stripHeight} fill="none" stroke="var(--rule-2)" />
      {[20, 40, 60, 80].map((x) => <line key={x} x1={`${x}%`} x2={`${x}%`} y1={stripHeight - 3} y2={stripHeight + 3} stroke="var(--rule-2)" />)}
      {band(of.wetted_up_to_percent_v_v, of.wetted_sigma_percent_v_v)}
      {band(of.rigid_up_to_percent_v_v, of.rigid_sigma_percent_v_v)}
      {mine !== undefined && (
        <svg x={`${mine}%`} overflow="visible">
          <path d={`M0 -4V${stripHeight + 4}`} stroke="var(--sheet)" stroke-width="5" />
          <path d={`M0 -4V${stripHeight + 4}M-5 -7h10l-5 7z`} stroke="var(--ink)" stroke-width="2" fill="var(--ink)" />
        </svg>
      )}
    </svg>
  );
}

/** The highest fraction with its band, as the program writes it: rounded down, the band at least 1. */
export function upTo(from: number | null, to: number | null, sigma: number | null): string {
  if (to === null) return t("ceilings.none");
  const value = `${Math.floor(to)}${sigma === null ? "" : ` ± ${Math.max(1, Math.round(sigma))}`} %`;
  if (from === to && to > 2) return t("ceilings.only_at", { to: value });
  return from !== null && from > 2 ? t("ceilings.between", { from: Math.ceil(from), to: value }) : t("ceilings.up_to", { to: value });
}

/** The whole of a strip in words. */
export function stripTitle(dryer: string, of: Ceiling): string {
  return t("ceilings.strip", {
    solvent: of.solvent.replace(/_/g, " "),
    dryer,
    rigid: upTo(of.rigid_from_percent_v_v, of.rigid_up_to_percent_v_v, of.rigid_sigma_percent_v_v),
    wetted: upTo(of.wetted_from_percent_v_v, of.wetted_up_to_percent_v_v, of.wetted_sigma_percent_v_v),
  });
}
