/* Ceilings of each dryer, kept while the page is open so that another choice of dryers asks only for what is new. */
import { signal } from "@preact/signals";
import type { CeilingsOne } from "../api/types";
import { dryers, generation } from "./workspace";
import { Work } from "./work";

export class DryerCeilings {
  readonly answer = signal<CeilingsOne | null>(null);
  readonly work = new Work<CeilingsOne>();
  /** The reader has stopped it: it is not asked again by itself. */
  readonly held = signal(false);
  private of = "";
  private readonly asked = new Set<string>();

  constructor(readonly name: string) {}

  /* Which version of the dryer, and of all that is the user's own. */
  private version(): string {
    return `${dryers.value?.find((one) => one.name === this.name)?.etag ?? "built in"} ${generation.value}`;
  }

  /** Asks for the usual solvents, and then for those of `also` that are not among them. */
  async want(also: readonly string[]): Promise<void> {
    const version = this.version();
    if (version !== this.of) {
      this.work.stop();
      this.of = version;
      this.answer.value = null;
      this.asked.clear();
    }
    if (this.held.peek() || this.work.progress.peek() !== null || this.work.problem.peek() !== "") return;
    const there = this.answer.peek();
    const missing = also.filter((one) => !this.asked.has(one) && there?.ceilings.some((c) => c.solvent === one) !== true);
    if (there !== null && missing.length === 0) return;
    if (there !== null) for (const one of missing) this.asked.add(one);
    this.work.of.value = "";
    await this.work.ask("ceilings", { dryer: this.name, ...(there === null ? {} : { solvent: missing }) }, version);
    const got = this.work.answer.peek();
    if (this.work.of.peek() !== version || got === null) return;
    this.answer.value = there === null ? got : { ...got, ceilings: [...there.ceilings, ...got.ceilings] };
    await this.want(also);
  }

  hold(): void {
    this.work.stop();
    this.held.value = true;
  }

  again(also: readonly string[]): void {
    this.held.value = false;
    this.work.problem.value = "";
    for (const one of also) this.asked.delete(one);
    void this.want(also);
  }
}

const known = new Map<string, DryerCeilings>();

export function ceilingsOf(name: string): DryerCeilings {
  let found = known.get(name);
  if (found === undefined) known.set(name, (found = new DryerCeilings(name)));
  return found;
}
