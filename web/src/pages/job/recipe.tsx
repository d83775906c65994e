import type { JobGiven } from "../job";

export function RecipePage(_: JobGiven) {
  return null;
}
