import { expect, island, test } from "./laboratory";

test("samples are compared on several dryers; a cell says why", async ({ page, lab }) => {
  lab.keep("jobs", "pool", island);
  await page.goto(lab.at("/compare?jobs=pool&dryers=bench-55,bench-85"));
  const begin = page.getByRole("button", { name: "Compare", exact: true });
  const table = page.getByRole("table");
  await Promise.race([table.waitFor({ timeout: 60_000 }), begin.click({ timeout: 60_000 }).catch(() => undefined)]);
  await expect(table).toContainText("wetted", { timeout: 60_000 });
  await table.getByRole("button").first().click();
  await expect(page.getByText(/above the solidus/)).toBeVisible();
  await expect(page).toHaveURL(/open=/);
});
