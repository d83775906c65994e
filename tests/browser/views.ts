/* Every view of the pages over one furnished laboratory: what is looked at for reach, for violations and in pictures. */
import type { Page } from "@playwright/test";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { island, type Laboratory, source } from "./laboratory";

const example = (name: string) => readFileSync(join(source, "examples", name), "utf8");

/** Jobs, dryers and own things enough for every view to have something to show. */
export function furnish(lab: Laboratory): void {
  lab.keep("jobs", "island", island);
  lab.keep("jobs", "harbour", example("harbour.yaml").replace(/^dryer:.*$/m, "dryer: two-traps"));
  lab.keep("jobs", "flasks", example("flasks.yaml").replace(/^dryer:.*$/m, "dryer: two-traps"));
  lab.keep("jobs", "unsound", island.replace("purpose: screening", "purpose: parade"));
  lab.keep("dryers", "two-traps", example("dryers/two-traps.yaml"));
  lab.keep("containers", "jar", "key: jar\nkind: vial\ninner_diameter: 40 mm\nwall: 1.5 mm\nbrim_volume: 60 mL\nport_diameter: 30 mm\nglass_mass: 40 g\n");
  lab.keep("solutes", "kelp", "key: kelp\nmolar_mass_g_mol: 342\nanchor_kind: glass\nanchor_temperature: -32 °C\nglass_temperature: 60 °C\n");
  lab.keep("substances", "draft", "key: draft\nmolar_mass_g_mol: many\n");
}

export interface View {
  name: string;
  at: string;
  /** Waits until the view shows what it is for. */
  ready: (page: Page) => Promise<unknown>;
}

const region = (name: string | RegExp) => (page: Page) => page.getByRole("region", { name }).first().waitFor();
const heading = (name: string | RegExp) => (page: Page) => page.getByRole("heading", { name }).first().waitFor();
const answered = async (page: Page) => {
  await page.getByRole("progressbar").first().waitFor({ state: "visible", timeout: 3000 }).catch(() => undefined);
  await page.getByRole("progressbar").first().waitFor({ state: "hidden", timeout: 120_000 });
};

export const views: View[] = [
  { name: "laboratory", at: "/", ready: heading("Laboratory") },
  { name: "standing", at: "/job/island/standing", ready: region("What would change it") },
  { name: "sample", at: "/job/island", ready: heading(/sea-holly/) },
  { name: "run", at: "/job/harbour/run", ready: region("Temperatures") },
  { name: "freezing", at: "/job/island/freezing", ready: region("What freezing makes of it") },
  { name: "routes", at: "/job/island/routes", ready: async (page) => { await page.getByRole("button", { name: "Look for ways" }).click(); await answered(page); } },
  { name: "recipe", at: "/job/island/recipe", ready: heading(/sea-holly/) },
  { name: "uncertainty", at: "/job/island/risk", ready: heading(/sea-holly/) },
  { name: "account", at: "/job/island/account", ready: region("Where every gram goes") },
  { name: "text", at: "/job/island/text", ready: region("Text") },
  { name: "faulty", at: "/job/unsound/standing", ready: (page) => page.getByRole("alert").first().waitFor() },
  { name: "ceilings", at: "/ceilings?dryers=bench-55,deep-105", ready: answered },
  { name: "compare", at: "/compare?jobs=island,harbour&dryers=bench-55,bench-85", ready: answered },
  { name: "dryers", at: "/dryers", ready: heading("Dryers") },
  { name: "dryer", at: "/dryer/two-traps", ready: heading(/two-trap/) },
  { name: "built-in dryer", at: "/dryer/bench-55", ready: heading(/-55 °C trap/) },
  { name: "dryer's text", at: "/dryer/two-traps/text", ready: region("Text") },
  { name: "dryer's ceilings", at: "/dryer/bench-85", ready: async (page) => {
    await page.getByRole("heading", { name: /-85/ }).waitFor();
    const side = page.getByRole("button", { name: "What it means" });
    if (await side.isVisible()) await side.click();
    await page.getByRole("button", { name: "Ask for its ceilings" }).click();
    await page.getByRole("group", { name: "methanol" }).waitFor();
  } },
  { name: "library", at: "/library", ready: heading("Library") },
  { name: "substance", at: "/library/substance/acetonitrile", ready: heading(/acetonitrile/i) },
  { name: "containers", at: "/library/containers", ready: region("Vials") },
  { name: "solutes", at: "/library/solutes", ready: region("Solutes") },
  { name: "solute", at: "/library/solute/sucrose", ready: heading(/sucrose/i) },
  { name: "own container", at: "/container/jar", ready: (page) => page.getByRole("textbox", { name: /^Key/ }).waitFor() },
  { name: "own solute", at: "/solute/kelp", ready: (page) => page.getByRole("textbox", { name: /^Key/ }).waitFor() },
  { name: "own substance, faulty", at: "/substance/draft", ready: (page) => page.getByRole("textbox", { name: /^Key/ }).waitFor() },
  { name: "help", at: "/help", ready: heading("Help") },
];
