/* Every view in light and dark, wide and narrow: no violation that axe-core finds, nothing cut off at 360 px. */
import AxeBuilder from "@axe-core/playwright";
import { expect, test } from "./laboratory";
import { furnish, views } from "./views";

for (const view of views)
  test(`${view.name}: reachable for everyone, at 1280 px light and 360 px dark`, async ({ page, lab }) => {
    test.setTimeout(240_000);
    furnish(lab);
    for (const [width, colorScheme] of [[1280, "light"], [360, "dark"]] as const) {
      await page.setViewportSize({ width, height: 800 });
      await page.emulateMedia({ colorScheme, reducedMotion: "reduce" });
      await page.goto(lab.at(view.at));
      await page.reload();
      await view.ready(page);
      const { violations } = await new AxeBuilder({ page }).analyze();
      expect(violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.target.join(" ")).join(", ")}`), `${width} px, ${colorScheme}`).toEqual([]);
      const [inside, whole] = await page.evaluate(() => [innerWidth, document.documentElement.scrollWidth]);
      expect(whole, `${width} px: wider than the window`).toBeLessThanOrEqual(inside);
    }
  });

test("everything is reached by Tab, and where one is can be seen", async ({ page, lab }) => {
  furnish(lab);
  await page.goto(lab.at("/job/island"));
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("wetted");
  await page.locator("body").focus();
  const seen = new Set<string>();
  for (let i = 0; i < 90; i++) {
    await page.keyboard.press("Tab");
    const here = await page.evaluate(() => {
      const e = document.activeElement as HTMLElement;
      if (e === document.body) return { name: "", id: "", outline: true };
      const style = getComputedStyle(e);
      return { name: e.getAttribute("aria-label") ?? e.innerText ?? "", id: e.id, outline: style.outlineStyle !== "none" || style.boxShadow !== "none" };
    });
    if (here.name !== "" || here.id !== "") expect(here.outline, `no sign of the focus on ${JSON.stringify(here)}`).toBe(true);
    seen.add(here.name.trim());
  }
  for (const name of ["Laboratory", "Amount of acetonitrile", "Standing", "Run", "Routes"]) expect([...seen].some((one) => one.startsWith(name)), `${name} is not reached`).toBe(true);
});
