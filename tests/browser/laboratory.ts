/* Each test has a server of its own over a workspace of its own, which it may stop and start again. A page on which the
   browser reports an error (a script's, or of the content security policy) fails its test. */
import { test as base, expect } from "@playwright/test";
import { type ChildProcess, spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export const source = process.env.DRYFRONT_SOURCE_DIR ?? join(import.meta.dirname, "../..");
const program = process.env.DRYFRONT_PROGRAM ?? join(source, "build/release/dryfront");

export const island = readFileSync(join(source, "examples/island.yaml"), "utf8");

export class Laboratory {
  readonly folder = mkdtempSync(join(tmpdir(), "dryfront-browser-"));
  private child: ChildProcess | null = null;
  private port = 0;

  /** Address of a view, e.g. at("/job/pool"). */
  at(view = "/"): string {
    return `http://127.0.0.1:${this.port}/#${view}`;
  }

  /** Puts a text into the workspace, as another program would. */
  keep(kind: string, name: string, text: string): void {
    mkdirSync(join(this.folder, kind), { recursive: true });
    writeFileSync(join(this.folder, kind, `${name}.yaml`), text);
  }

  drop(kind: string, name: string): void {
    rmSync(join(this.folder, kind, `${name}.yaml`));
  }

  kept(kind: string, name: string): string {
    return readFileSync(join(this.folder, kind, `${name}.yaml`), "utf8");
  }

  names(kind: string): string[] {
    return readdirSync(join(this.folder, kind)).filter((name) => name.endsWith(".yaml")).map((name) => name.slice(0, -5));
  }

  /** Starts the server; the second time at the same port. */
  async start(): Promise<void> {
    const child = spawn(program, ["serve", "--port", String(this.port), "--workspace", this.folder], { stdio: ["ignore", "pipe", "pipe"] });
    this.child = child;
    let said = "";
    for (const stream of [child.stdout!, child.stderr!]) stream.setEncoding("utf8").on("data", (text: string) => (said += text));
    for (let i = 0; i < 200; i++) {
      const found = /http:\/\/127\.0\.0\.1:(\d+)\//.exec(said);
      if (found !== null) {
        this.port = Number(found[1]);
        return;
      }
      if (child.exitCode !== null) break;
      await new Promise((next) => setTimeout(next, 100));
    }
    throw new Error(`the server did not start: ${said}`);
  }

  async stop(): Promise<void> {
    const child = this.child;
    this.child = null;
    if (child === null || child.exitCode !== null) return;
    const ended = new Promise((resolve) => child.once("exit", resolve));
    child.kill("SIGKILL");
    await ended;
  }

  remove(): void {
    rmSync(this.folder, { recursive: true, force: true });
  }
}

interface Fixtures {
  lab: Laboratory;
  /** What the browser reported as errors. */
  faults: string[];
}

export const test = base.extend<Fixtures>({
  lab: async ({}, use) => {
    const lab = new Laboratory();
    await lab.start();
    await use(lab);
    await lab.stop();
    lab.remove();
  },
  faults: [
    // Looked at before the server is stopped: a page still open then asks in vain.
    async ({ context, lab: _ }, use) => {
      const faults: string[] = [];
      context.on("weberror", (error) => faults.push(String(error.error())));
      context.on("console", (message) => {
        // Chromium reports a refusal by the server, and one that is not there, as a failed resource: both belong to the tests.
        if (message.type() === "error" && !/status of 4\d\d|net::ERR_/.test(message.text())) faults.push(message.text());
      });
      await use(faults);
      expect(faults).toEqual([]);
    },
    { auto: true },
  ],
});

export { expect };
