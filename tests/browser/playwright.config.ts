import { defineConfig } from "@playwright/test";

/* Debian's Chromium; a browser of Playwright's own is never fetched. The sandbox of Chromium does not work for root. */
export default defineConfig({
  testDir: ".",
  timeout: 90_000,
  expect: { timeout: 20_000 },
  workers: 2,
  fullyParallel: true,
  reporter: [["list"], ["json", { outputFile: process.env.DRYFRONT_BROWSER_REPORT ?? "results.json" }]],
  outputDir: process.env.DRYFRONT_BROWSER_OUT ?? "results",
  use: {
    viewport: { width: 1280, height: 900 },
    launchOptions: {
      executablePath: process.env.DRYFRONT_CHROMIUM ?? "/usr/bin/chromium",
      args: process.getuid?.() === 0 ? ["--no-sandbox"] : [],
    },
  },
});
