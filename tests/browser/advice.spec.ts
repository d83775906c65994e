/* Routes, recipe and uncertainty of a sample: asked, looked into, taken over. */
import { readFileSync } from "node:fs";
import type { Download, Page } from "@playwright/test";
import { expect, island, test } from "./laboratory";

/** As the island's sample, but for a purpose that does not accept it as it stands. */
const archive = island.replace("purpose: screening", "purpose: archive");

const hopeless = `job: plate in DMSO
purpose: archive
dryer: bench-55
sample: {composition: "DMSO 60 %v/v, water"}
containers:
  - {type: vial_10R, count: 100, fill: 3 mL, place: shelf}
freezing: {means: freezer, temperature: -80 °C}
recipe:
  - {time: 0 h, shelf_temperature: -45 °C}
limits: {margin: 1 K, time: 96 h}
`;

const vials = `job: sugar in water
purpose: archive
dryer: bench-85
sample:
  composition: water
  solutes:
    - {name: sucrose, concentration: 50 g/L}
containers:
  - {type: vial_10R, count: 100, fill: 3 mL, place: shelf}
freezing: {means: freezer, temperature: -80 °C}
recipe:
  - {time: 0 h, shelf_temperature: -40 °C, chamber_pressure: 0.1 mbar}
limits: {margin: 1 K, time: 120 h}
`;

const ways = (page: Page) => page.getByRole("table", { name: "Ways side by side" });

async function textOf(download: Download): Promise<string> {
  return readFileSync((await download.path())!, "utf8");
}

test.setTimeout(240_000);
test.use({ actionTimeout: 60_000 });

test("a sample that is not acceptable is offered ways at once; one is taken over and undone", async ({ page, lab }) => {
  lab.keep("jobs", "pool", archive);
  await page.goto(lab.at("/job/pool/routes"));
  await expect(ways(page)).toBeVisible({ timeout: 120_000 });
  const table = ways(page);
  await expect(table.locator("tbody").first()).toContainText("as it is");
  await expect(page.getByRole("region", { name: "Before you do it" })).toContainText("Local rules");
  const second = page.getByRole("button", { name: /^Take over: .*second trap/ });
  await second.focus();
  await page.keyboard.press("Enter");
  await expect(page).toHaveURL(/\/job\/pool\/standing/);
  await expect(page.getByText("Taken over; Undo brings back what was.")).toBeVisible();
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("rigid");
  const dryer = /^dryer: (.*)$/m.exec(await expect.poll(() => lab.kept("jobs", "pool")).toContain("bench-55-").then(() => lab.kept("jobs", "pool")))![1]!;
  expect(lab.names("dryers")).toContain(dryer);
  await page.keyboard.press("Control+z");
  await expect.poll(() => lab.kept("jobs", "pool")).toBe(archive);
  await expect(page.getByText("Taken over; Undo brings back what was.")).toBeHidden();
});

test("ways are sorted by their columns, opened in place and kept as CSV; the address holds the order", async ({ page, lab }) => {
  lab.keep("jobs", "pool", archive);
  await page.goto(lab.at("/job/pool/routes"));
  await expect(ways(page)).toBeVisible({ timeout: 120_000 });
  await page.getByRole("button", { name: "machine" }).click();
  await expect(page).toHaveURL(/sort=machine_h/);
  const hours = await ways(page).locator("tbody:not(.reference) td[data-label='machine']").allTextContents();
  const values = hours.map((text) => Number.parseFloat(text));
  expect(values.length).toBeGreaterThan(2);
  expect(values).toEqual([...values].sort((a, b) => a - b));
  await page.getByRole("button", { name: /^Details: .*boil off/ }).first().click();
  await expect(page.getByText("stop at").first()).toBeVisible();
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "numbers as CSV" }).click()]);
  expect((await textOf(download)).split("\r\n")[0]).toBe("way,standing,machine_h,hands_on_min,vented_g,least_margin_K,least_margin_sigma_K,chance_percent,cost_h,to_be_had");
});

test("a change of the sample is said beside the ways; asking can be stopped", async ({ page, lab }) => {
  lab.keep("jobs", "pool", archive);
  await page.goto(lab.at("/job/pool/routes"));
  await expect(ways(page)).toBeVisible({ timeout: 120_000 });
  await page.getByRole("textbox", { name: "Amount of acetonitrile" }).fill("30");
  await expect(page.getByText("has changed since this was answered")).toBeVisible();
  await page.getByRole("button", { name: "Ask again" }).click();
  await page.getByRole("button", { name: "Stop" }).click();
  await expect(page.getByRole("button", { name: "Ask again" })).toBeVisible();
  await expect(ways(page)).toBeVisible();
});

test("that nothing works is an answer, with what comes nearest", async ({ page, lab }) => {
  lab.keep("jobs", "plate", hopeless);
  await page.goto(lab.at("/job/plate/routes"));
  const said = page.getByRole("region", { name: "Nothing works" });
  await expect(said).toContainText("acceptable for archive", { timeout: 120_000 });
  await expect(said).toContainText("of solid framework");
});

test("set points are moved on the drawing with the keyboard and the mouse, and the run follows", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/recipe"));
  const outcome = page.getByRole("region", { name: "What follows from it" });
  await expect(outcome).toContainText("wetted");
  const point = (i: number) => page.getByRole("slider", { name: `Shelf temperature of set point ${i}` });
  for (const i of [1, 2]) {
    await point(i).focus();
    for (let k = 0; k < 12; k++) await page.keyboard.press("ArrowDown");
  }
  await expect(outcome).toContainText("rigid");
  await expect.poll(() => lab.kept("jobs", "pool")).toContain("{time: 10 h, shelf_temperature: -50 °C}");
  await page.keyboard.press("+");
  await expect(point(4)).toBeVisible();
  await expect(point(3)).toBeFocused();
  await page.keyboard.press("Delete");
  await expect(point(4)).toBeHidden();
  const box = (await point(3).locator("circle").nth(1).boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + 60, box.y - 30, { steps: 8 });
  await page.mouse.up();
  const moved = await expect.poll(() => lab.kept("jobs", "pool")).not.toContain("{time: 12 h, shelf_temperature: -34 °C}").then(() => lab.kept("jobs", "pool"));
  const [, hours, shelf] = /- \{time: ([\d.]+) h, shelf_temperature: (-\d+) °C\}\nlimits/.exec(moved)!;
  expect(Number(hours)).toBeGreaterThan(12);
  expect(Number(shelf)).toBeGreaterThan(-34);
});

test("the chances of a sample, what matters most and the shelf for a risk", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/risk?runs=64&indices=16&accept=20+%25&seed=7"));
  await page.getByRole("button", { name: "Run over what is not sure" }).click();
  await expect(page.getByText(/Leaves rigid in .* of 64 runs/)).toBeVisible({ timeout: 180_000 });
  await expect(page.getByText(/Seed 7; 64 runs of the sample/)).toBeVisible();
  await expect(page.getByRole("region", { name: "The shelf for the risk accepted", exact: true })).toContainText("20 %");
  await expect(page.getByRole("table").filter({ hasText: "cake resistance R0" })).toContainText("assumption");
  await page.getByRole("button", { name: "Save: Which input matters most" }).click();
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("menuitem", { name: "numbers as CSV" }).click()]);
  const rows = (await textOf(download)).trim().split("\r\n");
  expect(rows[0]).toMatch(/^group,margin_first,margin_first_standard_error,margin_total/);
  expect(rows.some((row) => row.startsWith("cake,"))).toBe(true);
  await page.getByRole("button", { name: "time", exact: true }).click();
  await expect(page).toHaveURL(/of=time/);
});

test("the fastest recipe is found, drawn behind the present one and taken over; the design space is read by key and as a table", async ({ page, lab }) => {
  lab.keep("jobs", "vials", vials);
  await page.goto(lab.at("/job/vials/recipe"));
  await expect(page.getByRole("region", { name: "What follows from it" })).toContainText("primary drying");
  await page.getByRole("textbox", { name: "Shelf no warmer than" }).fill("10");
  await page.getByRole("button", { name: "Find the fastest recipe" }).click();
  const found = page.getByRole("region", { name: "Recipes within the limits" });
  await expect(found).toContainText("recommended", { timeout: 220_000 });
  await expect(found).toContainText("shelf of −50.0 °C to 10.0 °C");
  await expect(page.getByRole("combobox", { name: "Drawn behind" })).toHaveValue("path");
  const cell = page.getByRole("slider", { name: "Shelf temperature and pressure" });
  const before = await cell.getAttribute("aria-valuetext");
  await cell.focus();
  await page.keyboard.press("ArrowLeft");
  await expect(cell).not.toHaveAttribute("aria-valuetext", before!);
  await page.getByRole("button", { name: "Save: Design space of primary drying" }).click();
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("menuitem", { name: "numbers as CSV" }).click()]);
  const rows = (await textOf(download)).trim().split("\r\n");
  expect(rows.length).toBe(1 + 40 * 40);
  await page.getByRole("button", { name: "Save: Design space of primary drying" }).click();
  await page.getByRole("menuitem", { name: "show as a table" }).click();
  await expect(page.getByRole("region", { name: "Design space of primary drying" }).getByRole("table")).toBeVisible();
  await found.locator("tbody", { hasText: "recommended" }).getByRole("button", { name: /^Take over/ }).click();
  await expect(page.getByText("Taken over; Undo brings back what was.")).toBeVisible();
  await expect(page).toHaveURL(/\/job\/vials\/recipe/);
  await expect.poll(() => lab.kept("jobs", "vials")).not.toContain("shelf_temperature: -40 °C");
  await page.keyboard.press("Control+z");
  await expect.poll(() => lab.kept("jobs", "vials")).toBe(vials);
});
