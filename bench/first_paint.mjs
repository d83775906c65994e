// First paint of the pages and how long an answer takes while typing, seen from Chromium.
//
//   cd tests/browser && npm ci && node ../../bench/first_paint.mjs PROGRAM
//
// Twenty cold loads of the laboratory and of a job (a fresh browser context each, no cache), then forty edits of a fill, each
// timed from the key to the answer on the screen. Median and 95th percentile, ms.
import { spawn } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "..");
const { chromium } = createRequire(join(root, "tests/browser/package.json"))("@playwright/test");
const folder = mkdtempSync(join(tmpdir(), "dryfront-paint-"));
mkdirSync(join(folder, "jobs"));
writeFileSync(join(folder, "jobs/pool.yaml"), readFileSync(join(root, "examples/island.yaml")));
const server = spawn(process.argv[2] ?? join(root, "build/release/dryfront"), ["serve", "--port", "0", "--workspace", folder]);
const base = await new Promise((resolve) => {
  let said = "";
  server.stdout.on("data", (text) => {
    said += text;
    const found = /http:\/\/[\d.:]+\//.exec(said);
    if (found) resolve(found[0]);
  });
});
const browser = await chromium.launch({ executablePath: "/usr/bin/chromium", args: process.getuid() === 0 ? ["--no-sandbox"] : [] });
const told = (name, values) => {
  values.sort((a, b) => a - b);
  const at = (share) => values[Math.min(Math.floor(share * values.length), values.length - 1)].toFixed(0);
  console.log(`${name.padEnd(34)} median ${at(0.5).padStart(5)} ms   95th percentile ${at(0.95).padStart(5)} ms`);
};
for (const [name, view] of [["first paint, laboratory", ""], ["first paint, job", "#/job/pool"]]) {
  const paints = [];
  for (let i = 0; i < 20; i++) {
    const context = await browser.newContext({ serviceWorkers: "block" });
    const page = await context.newPage();
    await page.goto(base + view);
    paints.push(await page.evaluate(() => new Promise((resolve) => {
      const look = () => {
        const found = performance.getEntriesByName("first-contentful-paint")[0];
        if (found) resolve(found.startTime);
        else setTimeout(look, 10);
      };
      look();
    })));
    await context.close();
  }
  told(name, paints);
}
const page = await (await browser.newContext()).newPage();
await page.goto(base + "#/job/pool");
await page.getByRole("region", { name: "Standing" }).waitFor();
const waits = [];
for (let i = 0; i < 40; i++) {
  await page.waitForTimeout(300);
  waits.push(await page.evaluate((fill) => new Promise((resolve) => {
    const box = [...document.querySelectorAll("label")].find((one) => one.textContent.startsWith("Fill in each")).control;
    const answers = document.querySelector(".answers > .stack");
    const began = performance.now();
    let gone = false;
    const watch = new MutationObserver(() => {
      const busy = document.querySelector(".answers [aria-busy]")?.getAttribute("aria-busy") === "true";
      if (busy) gone = true;
      else if (gone) {
        watch.disconnect();
        requestAnimationFrame(() => resolve(performance.now() - began));
      }
    });
    watch.observe(answers, { attributes: true, childList: true, subtree: true });
    box.value = fill;
    box.dispatchEvent(new Event("input", { bubbles: true }));
  }), String(5 + 0.02 * i)));
}
told("from the key to the answer", waits);
await browser.close();
server.kill();
