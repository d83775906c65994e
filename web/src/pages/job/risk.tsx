import type { JobGiven } from "../job";

export function RiskPage(_: JobGiven) {
  return null;
}
