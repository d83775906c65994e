import { join } from "node:path";
import { source, test } from "./laboratory";
import { furnish, views } from "./views";

const out = process.env.DRYFRONT_SCREENSHOTS ?? join(source, "build/screenshots");

for (const view of views)
  test(view.name, async ({ page, lab }) => {
    furnish(lab);
    for (const width of [360, 900, 1600])
      for (const colorScheme of ["light", "dark"] as const) {
        await page.setViewportSize({ width, height: Math.round(width * 0.66) + 400 });
        await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
        await page.goto("about:blank");
        await page.goto(lab.at(view.at));
        await view.ready(page);
        await page.waitForTimeout(600);
        await page.screenshot({ path: join(out, `${view.name.replace(/ /g, "-")}-${width}-${colorScheme}.png`), fullPage: true });
      }
  });
