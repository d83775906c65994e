import { expect, island, test } from "./laboratory";

test("a newcomer judges a sample, and it is kept", async ({ page, lab }) => {
  await page.goto(lab.at());
  await page.getByRole("button", { name: "New sample" }).first().click();
  await expect(page.getByRole("region", { name: "Standing" })).toContainText(/rigid|wetted|afloat|unheld/);
  await page.getByRole("textbox", { name: "Name", exact: true }).first().fill("sea-lavender pool 2");
  await page.getByRole("combobox", { name: "Substance 1" }).fill("ethanol");
  await page.keyboard.press("Enter");
  await page.getByRole("textbox", { name: "Amount of ethanol" }).fill("60");
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("afloat");
  await expect(page.getByRole("status").filter({ hasText: "saved" })).toBeVisible();
  const name = lab.names("jobs").find((one) => lab.kept("jobs", one).includes("sea-lavender"))!;
  expect(lab.kept("jobs", name)).toContain("ethanol 60 %v/v, water");
});

test("the standing follows each change, with why and what would change it", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  const standing = page.getByRole("region", { name: "Standing" });
  await expect(standing).toContainText("wetted");
  await expect(standing).toContainText("above the solidus");
  await expect(page.getByRole("region", { name: "What would change it" })).toContainText("hold the shelf");
  for (const point of [1, 2]) await page.getByRole("textbox", { name: `Shelf temperature of set point ${point}` }).fill("-50");
  await expect(standing).toContainText("rigid");
});

test("comments and order of the file stay when the form writes into it", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  await page.getByRole("textbox", { name: "Fill in each" }).fill("5");
  await expect.poll(() => lab.kept("jobs", "pool")).toContain("fill: 5 mL");
  expect(lab.kept("jobs", "pool")).toBe(island.replace("fill: 6 mL", "fill: 5 mL"));
});

test("undo and redo, by button and by key, also after a reload", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  const amount = page.getByRole("textbox", { name: "Amount of acetonitrile" });
  await amount.fill("20");
  await page.waitForTimeout(1000);
  await amount.fill("10");
  await page.reload();
  await expect(amount).toHaveValue("10");
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(amount).toHaveValue("20");
  await page.keyboard.press("Control+z");
  await expect(amount).toHaveValue("35");
  await page.keyboard.press("Control+Shift+z");
  await expect(amount).toHaveValue("20");
  await expect.poll(() => lab.kept("jobs", "pool")).toContain("acetonitrile 20 %v/v");
});

test("a wrong field is told at the field, the last answer stays, nothing is lost", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  const standing = page.getByRole("region", { name: "Standing" });
  await expect(standing).toContainText("wetted");
  const fill = page.getByRole("textbox", { name: "Fill in each" });
  await fill.fill("6000");
  await expect(fill).toHaveAttribute("aria-invalid", "true");
  await expect(page.getByRole("alert").first()).toContainText(/6000 mL does not fit/);
  await expect(standing).toContainText("wetted");
  await expect.poll(() => lab.kept("jobs", "pool")).toContain("fill: 6000 mL");
  await fill.fill("6");
  await expect(fill).toHaveAttribute("aria-invalid", "false");
});

test("an unknown substance is told with the nearest name", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  const name = page.getByRole("combobox", { name: "Substance 1" });
  await name.fill("acetonitril");
  await name.press("Escape");
  await name.fill("acetonitrilo");
  await page.getByRole("textbox", { name: "Amount of acetonitrile" }).or(page.getByRole("textbox", { name: "Amount of acetonitrilo" })).focus();
  await expect(page.getByRole("alert").first()).toContainText("acetonitrile");
});

test("a substance is found by its alias with the keyboard alone", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  const name = page.getByRole("combobox", { name: "Substance 1" });
  await name.focus();
  await page.keyboard.type("MeOH");
  await page.keyboard.press("Enter");
  await expect(name).toHaveValue("methanol");
  await expect.poll(() => lab.kept("jobs", "pool")).toContain("methanol 35 %v/v");
});

test("units switch at once, everywhere, and are remembered", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  const standing = page.getByRole("region", { name: "Standing" });
  await expect(standing).toContainText("−49.1 °C");
  await page.getByRole("button", { name: "Units" }).click();
  await page.getByRole("menuitemradio", { name: "K", exact: true }).click();
  await expect(standing).toContainText("224.0 K");
  await page.reload();
  await expect(standing).toContainText("224.0 K");
});

test("the text of the file and the form are one", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/text"));
  const text = page.getByRole("textbox", { name: /As it stands in the file/ });
  await text.fill(island.replace("35 %v/v", "25 %v/v"));
  await expect(page.getByRole("textbox", { name: "Amount of acetonitrile" })).toHaveValue("25");
  await text.fill(island.replace("purpose: screening", "purpose: parade"));
  await expect(page.getByText("The fault is in line 3.")).toBeVisible();
});

test("a figure is saved as SVG, PNG and CSV and read as a table", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/run"));
  const figure = page.getByRole("region", { name: "Temperatures" });
  const save = async (item: string) => {
    await figure.getByRole("button", { name: "Save" }).click();
    const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("menuitem", { name: item }).click()]);
    const chunks: Buffer[] = [];
    for await (const chunk of await download.createReadStream()) chunks.push(chunk as Buffer);
    return Buffer.concat(chunks);
  };
  const svg = (await save("as SVG")).toString();
  expect(await page.evaluate((text) => new DOMParser().parseFromString(text, "image/svg+xml").querySelectorAll("path").length, svg)).toBeGreaterThan(10);
  expect((await save("as PNG")).subarray(1, 4).toString()).toBe("PNG");
  const csv = (await save("numbers as CSV")).toString().trim().split("\r\n");
  expect(csv[0]).toMatch(/^"time since the pump started, h","shelf, °C"/);
  expect(csv.length).toBeGreaterThan(50);
  expect(csv[5]!.split(",").length).toBe(csv[0]!.split('","').length);
  await figure.getByRole("button", { name: "Save" }).click();
  await page.getByRole("menuitem", { name: "show as a table" }).click();
  await expect(figure.getByRole("table").getByRole("row")).toHaveCount(csv.length);
});

test("one cursor goes through all figures of a run, by keyboard too; a part looked at stands in the address", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/run"));
  const plots = page.getByRole("img", { name: /Arrow keys/ });
  await expect(plots).toHaveCount(3);
  await plots.first().focus();
  for (let i = 0; i < 8; i++) await page.keyboard.press("PageDown");
  for (const legend of await page.locator("figcaption").all()) await expect(legend.locator("b").first()).toHaveText(/\d/);
  const box = (await plots.first().locator(".u-over").boundingBox())!;
  await page.mouse.move(box.x + 20, box.y + 40);
  await page.mouse.down();
  await page.mouse.move(box.x + 200, box.y + 40, { steps: 5 });
  await page.mouse.up();
  await expect(page).toHaveURL(/from=[\d.]+&to=[\d.]+/);
  await page.reload();
  await expect(page.getByRole("button", { name: "Show the whole run" })).toBeVisible();
});

test("the account closes and names what leaves by the exhaust", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/account"));
  const row = page.getByRole("region", { name: "Where every gram goes" }).getByRole("row", { name: /acetonitrile/ }).first();
  await expect(row).toBeVisible();
  const grams = (await row.getByRole("cell").allInnerTexts()).map((cell) => (cell.includes("10⁻") ? 0 : Number(cell.replace(" g", ""))));
  expect(grams.length).toBe(8);
  const [filled = NaN, ...went] = grams;
  expect(Math.abs(went.reduce((a, b) => a + b, 0) - filled) / filled).toBeLessThan(0.01);
  await expect(page.getByRole("region", { name: "What leaves by the exhaust" })).toContainText(/local rules/i);
});

test("a remedy is taken over", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  await page.getByRole("region", { name: "What would change it" }).getByRole("button", { name: /^Take over(?! as)/ }).first().click();
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("rigid");
});
