/* Where the reader is: #/job/island/run?from=2&to=9. All of a view stands in its address, so that it can be copied. */
import { computed, signal } from "@preact/signals";

export interface Place {
  path: string[];
  query: Record<string, string>;
}

function read(): Place {
  const [path = "", query = ""] = location.hash.replace(/^#\/?/, "").split("?");
  return {
    path: path.split("/").filter((step) => step !== "").map(decodeURIComponent),
    query: Object.fromEntries(new URLSearchParams(query)),
  };
}

export const place = signal<Place>(read());
export const path = computed(() => place.value.path);
window.addEventListener("hashchange", () => (place.value = read()));

export function address(steps: readonly string[], query: Record<string, string> = {}): string {
  const asked = new URLSearchParams(query).toString();
  return "#/" + steps.map(encodeURIComponent).join("/") + (asked === "" ? "" : "?" + asked);
}

/** Goes there; the way back leads here. */
export function go(steps: readonly string[], query: Record<string, string> = {}): void {
  location.hash = address(steps, query);
}

/** Changes what is asked of the present view without a step in the way back; "" removes. */
export function adjust(query: Record<string, string>): void {
  const next = { ...place.value.query, ...query };
  for (const key of Object.keys(next)) if (next[key] === "") delete next[key];
  history.replaceState(null, "", address(place.value.path, next));
  place.value = { path: place.value.path, query: next };
}
