/* The laboratory: its demo, its list of samples, files from elsewhere; ceilings, samples on several dryers, help. */
import { readFileSync } from "node:fs";
import { expect, island, test } from "./laboratory";

const samples = "Samples";

test("a first visit finds the demo laboratory, in all four standings; it is cleared, put back, and does not come again, nor to another browser", async ({ page, lab, browser }) => {
  await page.goto(lab.at());
  const list = page.getByRole("region", { name: samples });
  for (const standing of ["rigid", "wetted", "afloat", "unheld"]) await expect(list.getByRole("cell").getByText(standing, { exact: true }).first()).toBeVisible();
  const put = lab.names("jobs");
  expect(put.length).toBeGreaterThanOrEqual(5);
  for (const name of put) expect(lab.kept("jobs", name)).toMatch(/^# Demo laboratory, invented/);
  for (const name of lab.names("dryers")) expect(lab.kept("dryers", name)).toMatch(/^# Demo laboratory, invented/);
  lab.keep("jobs", "mine", island);
  lab.keep("jobs", "copy-of-a-demo", lab.kept("jobs", put[0]!));
  await page.reload();
  const all = put.length + lab.names("dryers").length;
  await page.getByRole("button", { name: `Clear the demo laboratory (${all})` }).click();
  await expect.poll(() => lab.names("jobs").sort()).toEqual(["copy-of-a-demo", "mine"]);
  await expect.poll(() => lab.names("dryers")).toEqual([]);
  await page.getByRole("button", { name: "Undo" }).click();
  await expect.poll(() => lab.names("jobs").length).toBe(put.length + 2);
  await page.getByRole("button", { name: /Clear the demo laboratory/ }).click();
  await expect.poll(() => lab.names("jobs").length + lab.names("dryers").length).toBe(2);
  await page.reload();
  await expect(list.getByRole("row")).toHaveCount(3);
  await expect(page.getByRole("button", { name: /Clear the demo laboratory/ })).toBeHidden();
  for (const name of lab.names("jobs")) lab.drop("jobs", name);
  const other = await (await browser.newContext()).newPage();
  const asked = other.waitForResponse(/\/api\/v1\/about$/);
  await other.goto(lab.at());
  await asked;
  await other.waitForTimeout(1500);
  expect(lab.names("jobs").length + lab.names("dryers").length).toBe(0);
});

test("a demo dryer that a sample of one's own stands on is not taken away under it", async ({ page, lab }) => {
  await page.goto(lab.at());
  await expect(page.getByRole("cell").getByText("unheld", { exact: true })).toBeVisible();
  lab.keep("jobs", "mine", lab.kept("jobs", "samphire-extract-2").replace(/^#.*\n/gm, ""));
  await page.reload();
  await expect(page.getByRole("region", { name: samples }).getByRole("row")).toHaveCount(10);
  await expect(page.getByRole("region", { name: samples }).getByText("boat-shed")).toHaveCount(2);
  await page.getByRole("button", { name: /Clear the demo laboratory/ }).click();
  await expect.poll(() => lab.names("jobs")).toEqual(["mine"]);
  expect(lab.names("dryers")).toEqual(["boat-shed"]);
});

test("samples are found, ordered, copied, removed and put back; a faulty one says why", async ({ page, lab }) => {
  lab.keep("jobs", "alpha", island.replace(/^job: .*/m, "job: alpha"));
  lab.keep("jobs", "beta", island.replace(/^job: .*/m, "job: beta").replace("35 %v/v", "2 %v/v"));
  lab.keep("jobs", "gamma", island.replace(/^job: .*/m, "job: gamma").replace("acetonitrile 35", "acetonitril 35"));
  await page.goto(lab.at());
  const list = page.getByRole("region", { name: samples });
  await expect(list.getByRole("cell").getByText("wetted", { exact: true }).first()).toBeVisible();
  await expect(list.getByText(/did you mean acetonitrile/)).toBeVisible();
  await list.getByRole("button", { name: /^sample/ }).click();
  await expect(list.getByRole("rowheader").first()).toContainText("gamma");
  await expect(page).toHaveURL(/down=1/);
  await list.getByRole("searchbox", { name: "Find" }).fill("bet");
  await expect(list.getByRole("rowheader")).toHaveCount(1);
  await expect(page).toHaveURL(/find=bet/);
  await list.getByRole("button", { name: "Actions for beta" }).click();
  await page.getByRole("menuitem", { name: "Make a copy" }).click();
  await expect.poll(() => lab.names("jobs").length).toBe(4);
  expect(lab.kept("jobs", "beta-2")).toContain("job: beta, copy");
  const before = lab.kept("jobs", "beta");
  await list.getByRole("button", { name: "Actions for beta", exact: true }).focus();
  await page.keyboard.press("Enter");
  await expect(page.getByRole("menuitem").first()).toBeFocused();
  await page.keyboard.press("ArrowUp");
  await page.keyboard.press("Enter");
  await expect.poll(() => lab.names("jobs").includes("beta")).toBe(false);
  await page.getByRole("button", { name: "Undo" }).click();
  await expect.poll(() => lab.names("jobs").includes("beta")).toBe(true);
  expect(lab.kept("jobs", "beta")).toBe(before);
});

test("files are imported by dropping them, each under a name that is free", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at());
  const dryer = "name: dropped\nchamber: {volume: 60 L}\n";
  const given = await page.evaluateHandle(
    ([job, other]) => {
      const data = new DataTransfer();
      data.items.add(new File([job!], "pool.yaml"));
      data.items.add(new File([other!], "attic.yml"));
      return data;
    },
    [island.replace("35 %v/v", "20 %v/v"), dryer],
  );
  await page.getByRole("heading", { name: "Laboratory" }).dispatchEvent("drop", { dataTransfer: given });
  await expect(page.getByRole("status").filter({ hasText: "Imported: pool-2, attic." })).toBeVisible();
  expect(lab.kept("jobs", "pool")).toBe(island);
  expect(lab.kept("jobs", "pool-2")).toContain("20 %v/v");
  expect(lab.kept("dryers", "attic")).toBe(dryer);
});

test("ceilings: the strips are what the API says, with the reader's own sample on them; saved as SVG and CSV", async ({ page, lab, request }) => {
  await page.goto(lab.at("/ceilings?dryers=bench-55&solvent=acetonitrile&percent=35"));
  const answer = (await (await request.post(lab.at("").replace("/#", "/api/v1/ceilings"), { data: { dryer: "bench-55" } })).json()) as {
    ceilings: { solvent: string; rigid_up_to_percent_v_v: number | null }[];
  };
  const acetonitrile = answer.ceilings.find((one) => one.solvent === "acetonitrile")!;
  const row = page.getByRole("row", { name: /acetonitrile/ });
  await expect(row).toContainText(`rigid to ${Math.floor(acetonitrile.rigid_up_to_percent_v_v!)} ±`);
  await expect(row).toContainText("your sample: 35.0 %");
  await expect(page.getByRole("img", { name: /on bench-55: rigid/ })).toHaveCount(answer.ceilings.length);
  const save = async (item: string) => {
    await page.getByRole("button", { name: "Save" }).click();
    const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("menuitem", { name: item }).click()]);
    return readFileSync((await download.path())!, "utf8");
  };
  const csv = (await save("numbers as CSV")).trim().split("\r\n");
  expect(csv.length).toBe(answer.ceilings.length + 1);
  expect(csv.find((line) => line.includes(",acetonitrile,"))).toContain(`,${acetonitrile.rigid_up_to_percent_v_v},`);
  const svg = await save("as SVG");
  expect(svg).not.toContain("var(");
  expect(await page.evaluate((text) => new DOMParser().parseFromString(text, "image/svg+xml").querySelectorAll("svg.strip").length, svg)).toBe(answer.ceilings.length);
  await page.getByRole("button", { name: "by ceiling" }).click();
  await expect(page).toHaveURL(/order=ceiling/);
  await page.getByRole("combobox", { name: "Another solvent" }).fill("formic");
  await page.keyboard.press("Enter");
  await expect(page.getByRole("row", { name: /formic acid/ })).toContainText(/rigid/);
  await expect(page).toHaveURL(/also=formic_acid/);
});

test("samples on several dryers: the matrix is what the API says, a cell opens its why, numbers as CSV", async ({ page, lab, request }) => {
  lab.keep("jobs", "pool", island);
  lab.keep("jobs", "thin", island.replace(/^job: .*/m, "job: thin").replace("35 %v/v", "5 %v/v"));
  await page.goto(lab.at("/compare?jobs=pool,thin&dryers=bench-55,deep-105"));
  const asked = { jobs: { pool: lab.kept("jobs", "pool"), thin: lab.kept("jobs", "thin") }, dryer: ["bench-55", "deep-105"] };
  const answer = (await (await request.post(lab.at("").replace("/#", "/api/v1/compare"), { data: asked })).json()) as {
    jobs: { job: string; on: { standing: string; because: string; run_h: number }[] }[];
  };
  const matrix = page.getByRole("region", { name: "Samples on several dryers" });
  await expect(matrix.getByRole("button")).toHaveCount(4, { timeout: 60_000 });
  for (const [i, job] of answer.jobs.entries()) {
    for (const [k, cell] of job.on.entries()) await expect(matrix.getByRole("row").nth(i + 1).getByRole("button").nth(k)).toContainText(cell.standing);
  }
  await matrix.getByRole("button").first().press("Enter");
  await expect(matrix).toContainText(answer.jobs[0]!.on[0]!.because);
  await expect(page).toHaveURL(/open=pool%40bench-55/);
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("button", { name: "numbers as CSV" }).click()]);
  const csv = readFileSync((await download.path())!, "utf8").trim().split("\r\n");
  expect(csv.length).toBe(5);
  expect(csv[1]).toContain(`,${answer.jobs[0]!.on[0]!.run_h},`);
});
