/* Patterns to fill areas that have to be told apart without colour. */
export type PatternName = "rigid" | "wetted" | "afloat" | "unheld" | "rising" | "falling" | "dots" | "lines" | "cross" | "plain";

const inks: Partial<Record<PatternName, string>> = { rigid: "--rigid", wetted: "--wetted", afloat: "--afloat", unheld: "--unheld" };

/** Definitions for `fillOf` with the same `id`, to stand in the drawing's <defs>. */
export function Patterns({ id, names }: { id: string; names: PatternName[] }) {
  return (
    <defs>
      {names.map((name) => {
        const ink = `var(${inks[name] ?? "--ink-3"})`;
        return (
          <pattern key={name} id={`${id}-${name}`} width="8" height={name === "wetted" || name === "afloat" ? 9 : 8} patternUnits="userSpaceOnUse">
            {name === "rigid" && <rect width="8" height="8" fill={ink} />}
            {name === "wetted" && <><rect width="8" height="4.5" fill={ink} /><path d="M0 7.2q2-2 4 0t4 0" fill="none" stroke={ink} stroke-width="1.2" /></>}
            {name === "afloat" && <><path d="M0 2.6q2-2 4 0t4 0M0 7.1q2-2 4 0t4 0" fill="none" stroke={ink} stroke-width="1.2" /></>}
            {name === "unheld" && <><circle cx="2" cy="2" r="1.2" fill={ink} /><circle cx="6" cy="6" r="1.2" fill={ink} /></>}
            {name === "rising" && <path d="M-2 2l4-4M0 8l8-8M6 10l4-4" stroke={ink} stroke-width="1.1" />}
            {name === "falling" && <path d="M-2 6l4 4M0 0l8 8M6-2l4 4" stroke={ink} stroke-width="1.1" />}
            {name === "dots" && <circle cx="4" cy="4" r="1.2" fill={ink} />}
            {name === "lines" && <path d="M0 4h8" stroke={ink} stroke-width="1.1" />}
            {name === "cross" && <path d="M0 4h8M4 0v8" stroke={ink} stroke-width="0.9" />}
            {name === "plain" && <rect width="8" height="8" fill="var(--rule)" />}
          </pattern>
        );
      })}
    </defs>
  );
}

export function fillOf(id: string, name: PatternName): string {
  return `url(#${id}-${name})`;
}
