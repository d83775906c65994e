/* What a job rests on: substances, containers, solutes, built in and of the workspace. */
import { useEffect } from "preact/hooks";
import { address, path } from "../store/place";
import { refreshOwn, refreshTables } from "../store/workspace";
import { t } from "../text/text";
import { ContainersList } from "./library/containers";
import { SolutesList } from "./library/solutes";
import { SubstancesList } from "./library/substances";
import { SubstanceSheet } from "../parts/substance_sheet";

const lists = ["substances", "containers", "solutes"] as const;

export default function LibraryPage() {
  const [first, at = "substances", key] = path.value;
  const list = at === "substance" || at === "solute" ? (`${at}s` as const) : (lists.find((one) => one === at) ?? "substances");
  useEffect(() => {
    void refreshTables();
    void refreshOwn();
  }, []);
  useEffect(() => {
    if (key === undefined) document.title = `${t(`library.${list}`)} · dryfront`;
  }, [key, list]);
  if (first !== "library") return null;
  return (
    <div class="stack">
      <h1 class={key === undefined ? undefined : "only-read"}>{t("nav.library")}</h1>
      <nav class="tabs" aria-label={t("nav.library")}>
        {lists.map((one) => (
          <a key={one} href={address(["library", one])} aria-current={one === list ? "page" : undefined}>
            {t(`library.${one}`)}
          </a>
        ))}
      </nav>
      {key !== undefined ? <SubstanceSheet key={key} name={key} /> : list === "containers" ? <ContainersList /> : list === "solutes" ? <SolutesList /> : <SubstancesList />}
    </div>
  );
}
