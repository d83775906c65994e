import { readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, source, test } from "./laboratory";

const twoTraps = readFileSync(join(source, "examples/dryers/two-traps.yaml"), "utf8");

test("a built-in dryer is shown, not changed; its copy is one's own", async ({ page, lab }) => {
  await page.goto(lab.at("/dryer/bench-55"));
  await expect(page.getByRole("textbox", { name: /^Volume/ }).first()).toHaveAttribute("readonly", "");
  await page.getByRole("button", { name: "Copy as mine" }).click();
  await expect(page).toHaveURL(/#\/dryer\/bench-55-\d+$/);
  await page.getByRole("textbox", { name: /^Volume/ }).first().fill("80");
  await expect.poll(() => lab.names("dryers").filter((name) => name.startsWith("bench-55-")).map((name) => lab.kept("dryers", name)).join()).toContain("volume: 80 L");
});

test("an edit of a dryer is felt in its ceilings", async ({ page, lab }) => {
  lab.keep("dryers", "attic", twoTraps);
  await page.goto(lab.at("/dryer/attic"));
  await page.getByRole("button", { name: "Ask for its ceilings" }).click();
  const methanol = page.getByRole("group", { name: "methanol" });
  await expect(methanol).toContainText("wetted");
  await page.getByRole("textbox", { name: "Temperature of point 1" }).fill("-70");
  await expect(page.getByText(/\(before: /).first()).toBeVisible();
  await expect.poll(() => lab.kept("dryers", "attic")).toContain("- {temperature: -70 °C, power: 0 W}");
  expect(lab.kept("dryers", "attic")).toBe(twoTraps.replace("- {temperature: -55 °C, power: 0 W}", "- {temperature: -70 °C, power: 0 W}"));
});

test("what is wrong with a dryer stands at its field, and is kept", async ({ page, lab }) => {
  lab.keep("dryers", "attic", twoTraps);
  await page.goto(lab.at("/dryer/attic"));
  const volume = page.getByRole("textbox", { name: /^Volume/ }).first();
  await volume.fill("60 mm");
  await expect(volume).toHaveAttribute("aria-invalid", "true");
  await expect(page.getByRole("alert").first()).toContainText("is a length where a volume is wanted");
  await page.reload();
  await expect(volume).toHaveAttribute("aria-invalid", "true");
  await expect.poll(() => lab.kept("dryers", "attic")).toContain("volume: 60 mm");
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(volume).toHaveAttribute("aria-invalid", "false");
  await page.getByRole("textbox", { name: "Power removed of point 2" }).fill("2000");
  await expect(page.getByRole("region", { name: "Trap", exact: true }).getByRole("alert")).toContainText("rise in power");
  await page.getByRole("button", { name: "Undo" }).click();
  await expect(page.getByRole("alert")).toHaveCount(0);
});

test("kinds are changed as a whole: pump, speed, trap, sections", async ({ page, lab }) => {
  lab.keep("dryers", "attic", twoTraps);
  await page.goto(lab.at("/dryer/attic"));
  const pump = page.getByRole("region", { name: "Pump", exact: true });
  await pump.getByRole("combobox", { name: /^Kind/ }).selectOption("dry");
  await expect(pump.getByRole("textbox", { name: /^Solvent limit/ })).toHaveCount(0);
  await pump.getByRole("button", { name: "nominal speed" }).click();
  await expect(pump.getByRole("textbox", { name: /^Nominal speed/ })).toHaveValue("8");
  await page.getByRole("region", { name: "Trap", exact: true }).getByRole("button", { name: "coolant finger" }).click();
  await page.getByRole("region", { name: "Second trap" }).getByRole("button", { name: "Take away" }).click();
  await page.getByRole("region", { name: "Manifold" }).getByRole("button", { name: "Add" }).click();
  await expect.poll(() => lab.kept("dryers", "attic")).toContain("manifold:");
  const text = lab.kept("dryers", "attic");
  for (const gone of ["solvent_limit:", "ballast:", "speed:\n", "refrigeration:", "second_trap:"]) expect(text).not.toContain(gone);
  for (const there of ["nominal_speed: 8 m3/h", "coolant: liquid_nitrogen"]) expect(text).toContain(there);
  await expect(page.getByRole("alert")).toHaveCount(0);
});

test("the text of a dryer and its form are one", async ({ page, lab }) => {
  lab.keep("dryers", "attic", twoTraps);
  await page.goto(lab.at("/dryer/attic/text"));
  const text = page.getByRole("region", { name: "Text" }).getByRole("textbox");
  await text.fill(twoTraps.replace("capacity: 6 kg", "capacity: 7 kg").replace("control: bleed", "contrl: bleed"));
  await expect(page.getByRole("textbox", { name: /^Capacity/ }).first()).toHaveValue("7");
  await expect(page.getByText("The fault is in line")).toBeVisible();
  await expect(page.getByRole("form").getByRole("alert")).toContainText("contrl");
});

test("two tabs do not overwrite each other's dryer", async ({ page, context, lab }) => {
  lab.keep("dryers", "attic", twoTraps);
  await page.goto(lab.at("/dryer/attic"));
  const other = await context.newPage();
  await other.goto(lab.at("/dryer/attic"));
  await other.getByRole("textbox", { name: /^Capacity/ }).first().fill("9");
  await expect.poll(() => lab.kept("dryers", "attic")).toContain("capacity: 9 kg");
  await page.bringToFront();
  await expect(page.getByRole("textbox", { name: /^Capacity/ }).first()).toHaveValue("9");
});

test("dryers stand side by side; one is removed and put back", async ({ page, lab }) => {
  lab.keep("dryers", "attic", twoTraps);
  await page.goto(lab.at("/dryers"));
  const row = page.getByRole("row", { name: /attic/ });
  for (const figure of ["−55 °C", "liquid nitrogen", "8 m³/h", "−50 °C … 60 °C"]) await expect(row).toContainText(figure);
  await row.getByRole("button", { name: "File of attic" }).click();
  await page.getByRole("menuitem", { name: "Remove" }).click();
  await expect(row).toHaveCount(0);
  expect(lab.names("dryers")).not.toContain("attic");
  await page.getByRole("button", { name: "Put it back" }).click();
  await expect(row).toBeVisible();
  expect(lab.kept("dryers", "attic")).toBe(twoTraps);
});
