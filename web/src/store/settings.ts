/* What the reader has set for this browser: light or dark. */
import { effect, signal } from "@preact/signals";

export type Theme = "as the system" | "light" | "dark";
const key = "dryfront/theme";

function remembered(): Theme {
  try {
    const kept = localStorage.getItem(key);
    return kept === "light" || kept === "dark" ? kept : "as the system";
  } catch {
    return "as the system";
  }
}

export const theme = signal<Theme>(remembered());
/** Rises whenever colours change, so that figures are drawn anew. */
export const colours = signal(0);

const system = matchMedia("(prefers-color-scheme: dark)");

function show(): void {
  const chosen = theme.peek();
  document.documentElement.dataset.theme = chosen === "as the system" ? (system.matches ? "dark" : "light") : chosen;
  colours.value = colours.peek() + 1;
}

effect(() => {
  const chosen = theme.value;
  try {
    if (chosen === "as the system") localStorage.removeItem(key);
    else localStorage.setItem(key, chosen);
  } catch {
    /* Not remembered then. */
  }
  show();
});
system.addEventListener("change", show);
/* Paper is white: figures drawn on a canvas are drawn anew for it. */
matchMedia("print").addEventListener("change", show);
