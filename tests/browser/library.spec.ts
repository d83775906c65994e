import { expect, test } from "./laboratory";

test("a substance is found by an alias, and its sheet tells figures, sources and caution", async ({ page, lab }) => {
  await page.goto(lab.at("/library"));
  await page.getByRole("searchbox").fill("MeCN");
  const rows = page.getByRole("region", { name: "Substances" }).getByRole("row");
  await expect(rows).toHaveCount(2);
  for (const figure of ["−43.8 °C", "81.6 °C", "readily", "fitted to cold data", "2.0 °C"]) await expect(rows.nth(1)).toContainText(figure);
  await expect(page).toHaveURL(/q=MeCN/);
  await page.getByRole("link", { name: "acetonitrile" }).click();
  await expect(page.getByRole("heading", { name: "acetonitrile" })).toBeVisible();
  await expect(page.getByText(/highly flammable/)).toBeVisible();
  await expect(page.getByRole("region", { name: "Constants" }).getByRole("row", { name: /fusion enthalpy/ })).toContainText("8167 ± 10 J/mol");
  await expect(page.getByRole("region", { name: "Correlations" }).getByRole("row", { name: /vapour pressure/ })).toContainText("6.8 °C … 82.3 °C");
  await page.getByRole("button", { name: "Units" }).click();
  await page.getByRole("menuitemradio", { name: "K", exact: true }).click();
  await expect(page.getByRole("region", { name: "Key figures" })).toContainText("229.3 K");
});

test("the list is ordered by a column, which stands in the address", async ({ page, lab }) => {
  await page.goto(lab.at("/library"));
  await page.getByRole("button", { name: "Melts" }).click();
  await expect(page.getByRole("region", { name: "Substances" }).getByRole("row").nth(1)).toContainText("1-propanol");
  await expect(page.getByRole("columnheader", { name: "Melts" })).toHaveAttribute("aria-sort", "ascending");
  await expect(page).toHaveURL(/by=melts/);
});

for (const { kind, item, button, field, wrong, said } of [
  { kind: "containers", item: "container", button: "New container", field: /^Inner diameter/, wrong: "-3", said: "between" },
  { kind: "solutes", item: "solute", button: "New solute", field: /^Molar mass/, wrong: "-3", said: "between" },
  { kind: "substances", item: "substance", button: "New substance", field: /^Molar mass/, wrong: "many", said: "number" },
])
  test(`a ${item} of one's own: begun, wrong at its field, mended, in use`, async ({ page, lab }) => {
    await page.goto(lab.at(`/library/${kind}`));
    await page.getByRole("button", { name: button }).click();
    await expect(page).toHaveURL(new RegExp(`#/${item}/`));
    const input = page.getByRole("textbox", { name: field });
    const right = await input.inputValue();
    await expect(page.getByRole("alert")).toHaveCount(0);
    await input.fill(wrong);
    await expect(input).toHaveAttribute("aria-invalid", "true");
    await expect(page.getByRole("alert").first()).toContainText(said);
    await page.reload();
    await expect(input).toHaveValue(wrong);
    await input.fill(right);
    await expect(input).toHaveAttribute("aria-invalid", "false");
    await page.getByRole("textbox", { name: "Name", exact: true }).fill(`shore ${item}`);
    await expect.poll(() => lab.kept(kind, `new-${item}`)).toContain(`name: shore ${item}`);
    await page.goto(lab.at(`/library/${kind}`));
    await expect(page.getByText(`shore ${item}`).last()).toBeVisible();
    await expect(page.getByText("yours", { exact: true })).toBeVisible();
  });

test("a key that is taken is told at the key", async ({ page, lab }) => {
  lab.keep("containers", "jar", "key: jar\nkind: vial\ninner_diameter: 40 mm\nwall: 1.5 mm\nbrim_volume: 60 mL\nport_diameter: 30 mm\nglass_mass: 40 g\n");
  await page.goto(lab.at("/container/jar"));
  await expect(page.getByRole("img", { name: /outline to scale: 43 mm across, 60 mL/ })).toBeVisible();
  const key = page.getByRole("textbox", { name: /^Key/ });
  await key.fill("vial_20R");
  await expect(key).toHaveAttribute("aria-invalid", "true");
  await expect(page.getByRole("alert").first()).toContainText("a built-in one");
});

test("containers are drawn, an own one among them, and a job offers it", async ({ page, lab }) => {
  lab.keep("containers", "jar", "key: jar\nkind: vial\ninner_diameter: 40 mm\nwall: 1.5 mm\nbrim_volume: 60 mL\nport_diameter: 30 mm\nglass_mass: 40 g\n");
  await page.goto(lab.at("/library/containers"));
  await expect(page.getByRole("region", { name: "Vials" }).getByRole("img")).toHaveCount(5);
  await page.getByRole("region", { name: "Vials" }).getByRole("link", { name: "jar" }).click();
  await expect(page).toHaveURL(/#\/container\/jar/);
  await page.goto(lab.at("/"));
  await page.getByRole("button", { name: "New sample" }).first().click();
  await page.getByRole("combobox", { name: /^Type/ }).selectOption("jar");
  await expect(page.getByRole("region", { name: "Standing" })).toContainText(/rigid|wetted|afloat|unheld/);
  await expect.poll(() => lab.names("jobs").map((name) => lab.kept("jobs", name)).join()).toContain("type: jar");
});
