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

effect(() => {
  const chosen = theme.value;
  if (chosen === "as the system") delete document.documentElement.dataset.theme;
  else document.documentElement.dataset.theme = chosen;
  try {
    if (chosen === "as the system") localStorage.removeItem(key);
    else localStorage.setItem(key, chosen);
  } catch {
    /* Not remembered then. */
  }
  colours.value = colours.peek() + 1;
});
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => (colours.value = colours.peek() + 1));
