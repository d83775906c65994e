/* Nothing is lost: a dead server, two tabs, a reload without a server. */
import { expect, island, test } from "./laboratory";

const amount = "Amount of acetonitrile";

test("a server killed in the middle: what is written is kept, and saved when it is back", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("wetted");
  await lab.stop();
  await page.getByRole("textbox", { name: amount }).fill("12");
  await expect(page.getByText(/The server is not reachable/)).toBeVisible();
  await page.getByRole("textbox", { name: amount }).fill("11");
  expect(lab.kept("jobs", "pool")).toBe(island);
  await lab.start();
  await expect.poll(() => lab.kept("jobs", "pool"), { timeout: 30_000 }).toContain("acetonitrile 11 %v/v");
  await expect(page.getByText(/The server is not reachable/)).toBeHidden();
  await expect(page.getByRole("region", { name: "Standing" })).toHaveAttribute("aria-label", "Standing");
});

test("reloaded without a server the pages are there, with the text", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("wetted");
  await page.evaluate(() => navigator.serviceWorker.ready.then(() => undefined));
  await page.reload();
  await expect(page.getByRole("region", { name: "Standing" })).toContainText("wetted");
  await lab.stop();
  await page.getByRole("textbox", { name: amount }).fill("9");
  await page.reload();
  await expect(page.getByRole("textbox", { name: amount })).toHaveValue("9");
  await expect(page.getByText(/The server is not reachable/)).toBeVisible();
  await lab.start();
  await expect.poll(() => lab.kept("jobs", "pool"), { timeout: 30_000 }).toContain("acetonitrile 9 %v/v");
});

test("two tabs: the other follows, and nothing is overwritten unasked", async ({ context, page, lab }) => {
  lab.keep("jobs", "pool", island);
  const second = await context.newPage();
  await page.goto(lab.at("/job/pool"));
  await second.goto(lab.at("/job/pool"));
  await expect(second.getByRole("textbox", { name: amount })).toHaveValue("35");
  await page.getByRole("textbox", { name: amount }).fill("30");
  await expect(second.getByRole("textbox", { name: amount })).toHaveValue("30");
  // Another program writes while this tab holds an edit that is not saved yet.
  await page.route("**/api/v1/workspace/jobs/pool*", (route) => (route.request().method() === "PUT" ? new Promise((go) => setTimeout(() => void route.continue().then(go), 1500)) : route.continue()));
  await page.getByRole("textbox", { name: amount }).fill("28");
  await page.waitForTimeout(300);
  lab.keep("jobs", "pool", island.replace("35 %v/v", "44 %v/v"));
  await expect(page.getByRole("heading", { name: "Changed in another tab or program" })).toBeVisible();
  expect(lab.kept("jobs", "pool")).toContain("44 %v/v");
  await expect(page.getByRole("textbox", { name: amount })).toHaveValue("28");
  await page.unroute("**/api/v1/workspace/jobs/pool*");
  await page.getByRole("button", { name: "Keep mine", exact: true }).click();
  await expect.poll(() => lab.kept("jobs", "pool")).toContain("28 %v/v");
  await expect(second.getByRole("textbox", { name: amount })).toHaveValue("28");
});

test("removed elsewhere: the text is still there and can be kept", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/job/pool"));
  await expect(page.getByRole("textbox", { name: amount })).toHaveValue("35");
  const { unlinkSync } = await import("node:fs");
  unlinkSync(`${lab.folder}/jobs/pool.yaml`);
  await page.getByRole("textbox", { name: amount }).fill("33");
  await expect.poll(() => lab.names("jobs").includes("pool") && lab.kept("jobs", "pool").includes("33 %v/v")).toBe(true);
});
