/* The workbench: the sample on the left, how it stands and everything that follows on the right. */
import { useComputed, useSignal } from "@preact/signals";
import { Fragment, type ComponentType } from "preact";
import { useEffect, useMemo, useState } from "preact/hooks";
import { Missing } from "../parts/bench";
import { FormContext } from "../parts/fields";
import { JobForm } from "../parts/job_form";
import { KeptBar, KeptTools } from "../parts/kept_bar";
import { showCurrent } from "../parts/menu";
import { Swatch } from "../parts/standing";
import { TakenNote } from "../parts/taken";
import { Judge } from "../store/judge";
import { Kept } from "../store/kept";
import { address, path } from "../store/place";
import { described } from "../store/forms";
import { Yaml } from "../store/yaml";
import { t, type TextKey } from "../text/text";
import { Account } from "./job/account";
import { StandingPage } from "./job/standing";

/** What every page of a job is given. */
export interface JobGiven {
  kept: Kept;
  judge: Judge;
}

type PageOf = ComponentType<JobGiven>;

/* Pages of a job in the order of the tabs; those that need more code are fetched when they are first opened. */
const pages: Record<string, { page?: PageOf; load?: () => Promise<PageOf> }> = {
  standing: { page: StandingPage },
  run: { load: () => import("./job/run").then((m) => m.RunPage) },
  freezing: { load: () => import("./job/freezing").then((m) => m.FreezingPage) },
  routes: { load: () => import("./job/routes").then((m) => m.RoutesPage) },
  recipe: { load: () => import("./job/recipe").then((m) => m.RecipePage) },
  risk: { load: () => import("./job/risk").then((m) => m.RiskPage) },
  account: { page: Account },
  text: { load: () => import("./job/text").then((m) => m.TextPage) },
};

export default function JobPage() {
  const [first, name = ""] = path.value;
  if (first !== "job" || name === "") return null; // on the way to another page
  return <Bench key={name} name={name} />;
}

function Bench({ name }: { name: string }) {
  const kept = useMemo(() => new Kept("jobs", name), [name]);
  const judge = useMemo(() => new Judge(kept), [kept]);
  const side = useSignal<"sample" | "answer">(path.value[2] === undefined ? "sample" : "answer");
  useEffect(() => {
    void kept.load();
    return () => {
      judge.close();
      kept.close();
    };
  }, [kept, judge]);

  const yaml = useComputed(() => new Yaml(kept.text.value));
  const tab = path.value[2] ?? "standing";
  useEffect(() => {
    document.title = `${yaml.value.at(["job"]) || name} · dryfront`;
  });

  if (kept.state.value === "loading" || kept.state.value === "absent") return <Missing kept={kept} absent={t("job.absent", { name })} back={<a href={address([])}>{t("nav.home")}</a>} />;
  const form = { yaml: yaml.value, edit: (text: string, field: string) => kept.edit(text, field), fault: judge.fault.value, described: described("job").value };
  return (
    <FormContext.Provider value={form}>
      <div class="stack">
        <div class="row between">
          <h1>{yaml.value.at(["job"]) || name}</h1>
          <KeptTools kept={kept} />
        </div>
        <KeptBar kept={kept} />
        <TakenNote kept={kept} />
        <div class="switch no-print">
          <div class="segments" role="group" aria-label={t("job.side")}>
            <button aria-pressed={side.value === "sample"} onClick={() => (side.value = "sample")}>{t("job.side.sample")}</button>
            <button aria-pressed={side.value === "answer"} onClick={() => (side.value = "answer")}>{t("job.side.answer")}</button>
          </div>
          <Brief judge={judge} />
        </div>
        <div class="bench" data-side={side.value}>
          <div class="editor sheet">{yaml.value.problem === null ? <JobForm /> : <p class="note alarm" role="alert">{t("job.no_yaml", { why: yaml.value.problem })}</p>}</div>
          <div class="answers stack">
            <nav class="tabs" aria-label={t("job.views")} ref={showCurrent}>
              {Object.keys(pages).map((key) => (
                <a key={key} href={address(["job", name, key])} aria-current={tab === key ? "page" : undefined}>
                  {t(`job.${key}` as TextKey)}
                </a>
              ))}
            </nav>
            <Fault judge={judge} />
            <Gone judge={judge} />
            <Fragment key={tab}>
              <View tab={tab} kept={kept} judge={judge} />
            </Fragment>
          </div>
        </div>
      </div>
    </FormContext.Provider>
  );
}

function View({ tab, kept, judge }: JobGiven & { tab: string }) {
  const known = pages[tab] ?? pages.standing!;
  const [page, setPage] = useState<{ of: PageOf } | null>(known.page === undefined ? null : { of: known.page });
  useEffect(() => {
    if (page === null) void known.load!().then((of) => setPage({ of }));
  }, []);
  if (tab !== "text" && judge.gone.value && judge.answer.value === null) return null;
  if (page === null) return <p class="quiet">{t("loading")}</p>;
  const Page = page.of;
  return <Page kept={kept} judge={judge} />;
}

/** The standing in a word, for where the whole answer is out of sight. */
function Brief({ judge }: { judge: Judge }) {
  const answer = judge.answer.value;
  if (judge.fault.value !== null) return <span class="quiet small">{t("job.faulty")}</span>;
  if (answer === null) return <span class="quiet small">{t(judge.gone.value ? "job.no_answer" : "job.judging")}</span>;
  return (
    <span class={judge.stale.value ? "standing stale" : "standing"}>
      <Swatch standing={answer.standing} /> {t(`standing.${answer.standing}` as TextKey)}
    </span>
  );
}

function Fault({ judge }: { judge: Judge }) {
  const fault = judge.fault.value;
  if (fault === null) return null;
  return (
    <p class="note alarm" role="alert">
      {t("job.fault")} {fault.message}
    </p>
  );
}

/** What the answer is worth while the server is not reachable. */
function Gone({ judge }: { judge: Judge }) {
  if (!judge.gone.value) return null;
  const from = judge.keptFrom.value;
  return (
    <p class="note warning" role="status">
      {from !== null ? t("job.gone.kept", { when: new Date(from).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" }) }) : t(judge.answer.value === null ? "job.gone.none" : "job.gone.older")}
    </p>
  );
}
