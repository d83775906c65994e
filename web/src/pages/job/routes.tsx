import type { JobGiven } from "../job";

export function RoutesPage(_: JobGiven) {
  return null;
}
