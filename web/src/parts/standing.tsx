/* A standing: its word and its pattern, then its colour. Patterns: solid ice; ice over liquid; waves; an open, dotted space. */
import { t, type TextKey } from "../text/text";

export type StandingWord = "rigid" | "wetted" | "afloat" | "unheld";

export function Swatch({ standing }: { standing: StandingWord }) {
  const ink = `var(--${standing})`;
  return (
    <svg viewBox="0 0 64 28" aria-hidden="true" preserveAspectRatio="none">
      <rect x="0.5" y="0.5" width="63" height="27" rx="3" fill="none" stroke={ink} stroke-dasharray={standing === "unheld" ? "3 3" : undefined} />
      {standing === "rigid" && <rect width="64" height="28" rx="3" fill={ink} />}
      {standing === "wetted" && (
        <>
          <rect width="64" height="13" fill={ink} />
          <path d="M0 19q4-3 8 0t8 0 8 0 8 0 8 0 8 0 8 0 8 0M0 25q4-3 8 0t8 0 8 0 8 0 8 0 8 0 8 0 8 0" fill="none" stroke={ink} stroke-width="1.6" />
        </>
      )}
      {standing === "afloat" && (
        <path d="M0 9q4-4 8 0t8 0 8 0 8 0 8 0 8 0 8 0 8 0M0 17q4-4 8 0t8 0 8 0 8 0 8 0 8 0 8 0 8 0M0 25q4-4 8 0t8 0 8 0 8 0 8 0 8 0 8 0 8 0" fill="none" stroke={ink} stroke-width="1.8" />
      )}
      {standing === "unheld" &&
        [10, 24, 38, 52].flatMap((x, i) => [8 + (i % 2) * 4, 20 - (i % 2) * 4].map((y) => <circle key={`${x} ${y}`} cx={x} cy={y} r="1.7" fill={ink} />))}
    </svg>
  );
}

export function StandingBadge({ standing, big = false }: { standing: StandingWord; big?: boolean }) {
  return (
    <span class={big ? "standing big" : "standing"} title={t(`standing.${standing}.meaning` as TextKey)}>
      <Swatch standing={standing} />
      {t(`standing.${standing}` as TextKey)}
    </span>
  );
}
