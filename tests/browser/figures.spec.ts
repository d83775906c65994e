/* Every figure is saved as SVG, PNG and CSV, from a dark page too, and what is saved is right and reads on white paper. */
import type { Locator, Page } from "@playwright/test";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, island, test } from "./laboratory";
import { furnish } from "./views";

/** The files go there as well, to be looked at. */
const out = process.env.DRYFRONT_FIGURES;

test.use({ colorScheme: "dark" });

async function save(page: Page, button: Locator, item: string): Promise<Buffer> {
  await button.click();
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("menuitem", { name: item }).click()]);
  const bytes = readFileSync((await download.path())!);
  if (out !== undefined) {
    mkdirSync(out, { recursive: true });
    writeFileSync(join(out, `${test.info().title.replace(/[^a-z]+/gi, "-")}-${download.suggestedFilename()}`), bytes);
  }
  return bytes;
}

/** Cells of a CSV (RFC 4180). */
function cells(csv: string): string[][] {
  const rows: string[][] = [[]];
  for (const [, quoted, plain, end] of csv.matchAll(/(?:"((?:[^"]|"")*)"|([^",\r\n]*))(,|\r\n|$)/g)) {
    rows.at(-1)!.push(quoted?.replace(/""/g, '"') ?? plain!);
    if (end === "\r\n") rows.push([]);
    else if (end === "") break;
  }
  if (rows.at(-1)!.every((cell) => cell === "")) rows.pop();
  return rows;
}

/** A page of no policy, in which what is saved is looked at as any other program would. */
const blank = new WeakMap<Page, Promise<Page>>();
function desk(page: Page): Promise<Page> {
  if (!blank.has(page)) blank.set(page, page.context().newPage());
  return blank.get(page)!;
}

/** What a picture is made of, drawn by the browser: how light its paper is, and how light its lightest and darkest parts. */
async function look(page: Page, bytes: Buffer, type: string): Promise<{ width: number; height: number; paper: number; darkest: number; share: number }> {
  return (await desk(page)).evaluate(async ([data, kind]) => {
    const picture = new Image();
    picture.src = `data:${kind};base64,${data}`;
    await picture.decode();
    const canvas = document.createElement("canvas");
    canvas.width = picture.naturalWidth;
    canvas.height = picture.naturalHeight;
    const c = canvas.getContext("2d")!;
    c.fillStyle = "#fff"; // white paper behind what has no ground of its own
    c.fillRect(0, 0, canvas.width, canvas.height);
    c.drawImage(picture, 0, 0);
    const { data: px } = c.getImageData(0, 0, canvas.width, canvas.height);
    const light = (i: number) => (0.2126 * px[i]! + 0.7152 * px[i + 1]! + 0.0722 * px[i + 2]!) / 255;
    let [darkest, dark] = [1, 0];
    for (let i = 0; i < px.length; i += 4) {
      darkest = Math.min(darkest, light(i));
      if (light(i) < 0.5) dark++;
    }
    return { width: canvas.width, height: canvas.height, paper: light(4 * (3 * canvas.width + 3)), darkest, share: dark / (px.length / 4) };
  }, [bytes.toString("base64"), type]);
}

/** Saves one figure three times and holds what comes against what it has to be; returns its cells. */
async function saved(page: Page, button: Locator): Promise<string[][]> {
  const name = (await button.getAttribute("aria-label"))!;
  const svg = await save(page, button, "as SVG");
  const sound = await (await desk(page)).evaluate((text) => {
    const root = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
    return root.localName === "svg" && root.querySelector("parsererror") === null && (root.querySelector("title")?.textContent ?? "") !== "";
  }, svg.toString());
  expect(sound, `${name}: an SVG with a title`).toBe(true);
  expect(svg.toString(), `${name}: colours are written out`).not.toContain("var(--");
  const drawn = await look(page, svg, "image/svg+xml");
  const png = await save(page, button, "as PNG");
  const painted = await look(page, png, "image/png");
  expect(painted.width / drawn.width, `${name}: twice its size`).toBeCloseTo(2, 1);
  for (const picture of [drawn, painted]) {
    expect(picture.paper, `${name}: light paper`).toBeGreaterThan(0.9);
    expect(picture.darkest, `${name}: dark ink`).toBeLessThan(0.35);
    expect(picture.share, `${name}: mostly paper`).toBeLessThan(0.5);
  }
  const rows = cells((await save(page, button, "numbers as CSV")).toString());
  expect(rows.length, `${name}: rows`).toBeGreaterThan(1);
  expect(new Set(rows.map((row) => row.length)).size, `${name}: as many cells in every row`).toBe(1);
  expect(rows[0]!.every((cell) => cell !== "" && !/^-?[\d.]+$/.test(cell)), `${name}: each column is named`).toBe(true);
  return rows;
}

const buttons = (page: Page) => page.getByRole("button", { name: /^Save: / });

async function savedAll(page: Page, least: number): Promise<Map<string, string[][]>> {
  await expect.poll(() => buttons(page).count()).toBeGreaterThanOrEqual(least);
  const all = new Map<string, string[][]>();
  for (const button of await buttons(page).all()) if (await button.isVisible()) all.set((await button.getAttribute("aria-label"))!.replace("Save: ", ""), await saved(page, button));
  return all;
}

test("phases and pressures", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island.replace(/composition: .*/, 'composition: "acetonitrile 35 %v/v, water"'));
  await page.goto(lab.at("/job/pool/freezing"));
  await page.getByRole("img", { name: "Phases" }).or(page.locator("img.drawn")).first().waitFor();
  const all = await savedAll(page, 2);
  const phases = [...all.values()].find((rows) => rows[0]!.includes("acetonitrile_percent_v_v"))!;
  const column = (name: string) => phases[0]!.indexOf(name);
  const of = (kind: string, name: string) => phases.filter((row) => row[column("kind")] === kind && row[column("name")] === name);
  const number = (row: string[], name: string) => Number(row[column(name)]);
  /* Ends of the liquid's boundaries: the melting points of water and of acetonitrile (-43.8 °C). */
  const ice = of("boundary", "ice + liquid | liquid").sort((a, b) => number(a, "acetonitrile_percent_v_v") - number(b, "acetonitrile_percent_v_v"));
  expect(number(ice[0]!, "temperature_C")).toBeCloseTo(0, 1);
  const crystal = of("boundary", "liquid | acetonitrile crystal + liquid").sort((a, b) => number(b, "acetonitrile_percent_v_v") - number(a, "acetonitrile_percent_v_v"));
  expect(number(crystal[0]!, "temperature_C")).toBeCloseTo(-43.8, 0);
  expect(number(of("this mixture", "")[0]!, "acetonitrile_percent_v_v")).toBe(35);
  await page.getByRole("button", { name: "Vapour pressures" }).click();
  await expect(page).toHaveURL(/picture=pressure/);
  await expect(buttons(page).filter({ hasText: "Save" }).last()).toHaveAttribute("aria-label", /pressures/);
  const pressures = await saved(page, buttons(page).last());
  expect(pressures[0]).toEqual(["kind", "name", "curve", "temperature_C", "pressure_mbar", "continued_outside_source"]);
  expect(pressures.some((row) => row[0] === "trap" && row[1] === "no load" && row[3] === "-55")).toBe(true);
});

test("a run", async ({ page, lab }) => {
  furnish(lab);
  await page.goto(lab.at("/job/harbour/run"));
  await page.getByRole("region", { name: "Temperatures" }).waitFor();
  await savedAll(page, 3);
});

test("a recipe", async ({ page, lab }) => {
  furnish(lab);
  await page.goto(lab.at("/job/harbour/recipe"));
  await page.getByRole("region", { name: "What follows from it" }).waitFor();
  await savedAll(page, 2);
});

test("what is not sure", async ({ page, lab }) => {
  furnish(lab);
  await page.goto(lab.at("/job/island/risk?runs=64&indices=16&accept=20+%25"));
  await page.getByRole("button", { name: "Run over what is not sure" }).click();
  await expect(page.getByText(/Leaves rigid in .* of 64 runs/)).toBeVisible({ timeout: 80_000 });
  await savedAll(page, 3);
});

test("ceilings", async ({ page, lab }) => {
  furnish(lab);
  await page.goto(lab.at("/dryer/bench-85"));
  await page.getByRole("button", { name: "Ask for its ceilings" }).click();
  await page.getByRole("group", { name: "methanol" }).waitFor({ timeout: 80_000 });
  await savedAll(page, 1);
  await page.goto(lab.at("/ceilings?dryers=bench-85"));
  await page.getByRole("cell").first().waitFor({ timeout: 80_000 });
  const all = await savedAll(page, 1);
  expect([...all.values()][0]!.some((row) => row.includes("acetonitrile"))).toBe(true);
});

test("a dryer, a substance, a container", async ({ page, lab }) => {
  furnish(lab);
  await page.goto(lab.at("/dryer/two-traps"));
  await page.getByRole("heading", { name: /two-trap/ }).waitFor();
  await savedAll(page, 2);
  await page.goto(lab.at("/library/substance/acetonitrile"));
  await savedAll(page, 1);
  await page.goto(lab.at("/container/jar"));
  const all = await savedAll(page, 1);
  expect([...all.values()][0]![1]![0]).toBe("jar");
});

test("a dark page is printed light, as wide as the paper", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool/run"));
  const plot = page.getByRole("region", { name: "Temperatures" }).locator("canvas");
  await plot.waitFor();
  /* The figure is made anew for the other look: until then there may be nothing to look at. */
  const dark = (most: number, least: number) =>
    expect(async () => {
      const { share, darkest } = await look(page, await plot.screenshot({ timeout: 2000 }), "image/png");
      expect(share).toBeLessThan(most);
      expect(share).toBeGreaterThan(least);
      expect(darkest).toBeLessThan(0.35);
    }).toPass({ timeout: 20_000 });
  await dark(1, 0.5);
  await page.emulateMedia({ media: "print" });
  await dark(0.3, 0);
  await page.setViewportSize({ width: 700, height: 900 });
  await expect.poll(async () => (await plot.boundingBox())!.width).toBeLessThan(700);
  await page.emulateMedia({ media: "screen" });
  await dark(1, 0.5);
});
