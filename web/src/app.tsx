/* The frame of every page: where one can go, how numbers are shown, whether the server answers. */
import { useSignal } from "@preact/signals";
import type { ComponentType } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import { reachable } from "./api/client";
import { Menu, showCurrent } from "./parts/menu";
import HomePage from "./pages/home";
import { address, path } from "./store/place";
import { choices, type Units, units } from "./store/quantity";
import { type Theme, theme } from "./store/settings";
import { refresh, refreshTables } from "./store/workspace";
import { t, type TextKey } from "./text/text";

type Page = ComponentType;

/* The first step of an address names its page; the code of each is fetched when it is first opened. */
const pages: Record<string, () => Promise<{ default: Page }>> = {
  job: () => import("./pages/job"),
  ceilings: () => import("./pages/ceilings"),
  compare: () => import("./pages/compare"),
  dryers: () => import("./pages/dryers"),
  dryer: () => import("./pages/dryer"),
  library: () => import("./pages/library"),
  container: () => import("./pages/item"),
  solute: () => import("./pages/item"),
  substance: () => import("./pages/item"),
  help: () => import("./pages/help"),
};

const nav: [string, TextKey, string[]][] = [
  ["", "nav.home", ["job"]],
  ["ceilings", "nav.ceilings", []],
  ["compare", "nav.compare", []],
  ["dryers", "nav.dryers", ["dryer"]],
  ["library", "nav.library", ["container", "solute", "substance"]],
  ["help", "nav.help", []],
];

export function App() {
  const first = path.value[0] ?? "";
  const [page, setPage] = useState<{ of: Page; at: string }>({ of: HomePage, at: "" });
  const missing = useSignal(false);
  useEffect(() => {
    void refresh();
    void refreshTables();
  }, []);
  useEffect(() => {
    const load = pages[first];
    missing.value = false;
    if (load === undefined) {
      document.title = "dryfront";
      setPage({ of: HomePage, at: first });
      return;
    }
    let gone = false;
    load().then(
      (module) => {
        if (!gone) setPage({ of: module.default, at: first });
      },
      () => (missing.value = true),
    );
    return () => {
      gone = true;
    };
  }, [first]);
  const bar = useRef<HTMLElement>(null);
  useEffect(() => showCurrent(bar.current), [first]);
  const Shown = page.of;
  return (
    <>
      <a class="skip" href="#main" onClick={(event) => { event.preventDefault(); document.getElementById("main")?.focus(); }}>{t("nav.skip")}</a>
      <header class="head">
        <a class="brand" href={address([])}>
          <img src="/favicon.svg" alt="" width="22" height="22" />
          dryfront
        </a>
        <nav class="nav" ref={bar} aria-label={t("nav.pages")}>
          {nav.map(([step, text, also]) => (
            <a key={step} href={address(step === "" ? [] : [step])} aria-current={first === step || also.includes(first) ? "page" : undefined}>
              {t(text)}
            </a>
          ))}
        </nav>
        <div class="tools">
          <UnitsMenu />
          <ThemeMenu />
        </div>
      </header>
      {!reachable.value && (
        <div class="bar warn" role="status">
          <p>{t("server.gone")}</p>
        </div>
      )}
      <main id="main" tabIndex={-1}>{missing.value ? <p class="note warning">{t("page.missing")}</p> : <Shown />}</main>
      <footer class="foot">{t("foot")}</footer>
    </>
  );
}

function UnitsMenu() {
  const kinds = Object.keys(choices) as (keyof Units)[];
  return (
    <Menu label={t("units")}>
      {kinds.map((kind) => (
        <div key={kind} role="group" aria-label={t(`units.${kind}`)} class="units" onClick={(event) => event.stopPropagation()}>
          <span class="small faint">{t(`units.${kind}`)}</span>
          <span class="row">
            {choices[kind].map((unit) => (
              <button key={unit} role="menuitemradio" aria-checked={units.value[kind] === unit} onClick={() => (units.value = { ...units.value, [kind]: unit })}>
                {unit}
              </button>
            ))}
          </span>
        </div>
      ))}
    </Menu>
  );
}

function ThemeMenu() {
  const all: Theme[] = ["as the system", "light", "dark"];
  return (
    <Menu label={t("theme")}>
      {all.map((one) => (
        <button key={one} role="menuitemradio" aria-checked={theme.value === one} onClick={() => (theme.value = one)}>
          {t(`theme.${one}`)}
        </button>
      ))}
    </Menu>
  );
}
