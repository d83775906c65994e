/* The laboratory: the samples at hand and how each stands, a new one, files from elsewhere. */
import { useSignal } from "@preact/signals";
import { useEffect, useState } from "preact/hooks";
import { get, reachable } from "../api/client";
import { download } from "../parts/figure";
import { Menu } from "../parts/menu";
import { BringButton } from "../parts/shelf";
import { StandingBadge, type StandingWord } from "../parts/standing";
import { type Brief, briefs, current, foundation, watchBriefs } from "../store/briefs";
import type { Kind } from "../store/kept";
import { newJob } from "../store/new";
import { address, adjust, go, place } from "../store/place";
import { duration } from "../store/quantity";
import { type About, add, bring, builtInDryers, changed, dryers, jobs, type Listed, putBack, reasonOf, refresh, type Removed, take } from "../store/workspace";
import { Yaml } from "../store/yaml";
import { t, type TextKey, textOf } from "../text/text";

type Demo = typeof import("../store/demo");

/* What was just done, said above the list, with the way back. */
interface Said {
  text: string;
  bad?: boolean;
  undo?: Removed[];
}

type Order = "name" | "standing" | "dryer" | "purpose" | "time";
const orders: Order[] = ["name", "standing", "dryer", "purpose", "time"];
const ranks: (StandingWord | null)[] = ["rigid", "wetted", "afloat", "unheld", null];

/* A job names a dryer of the workspace with or without the ending of its file. */
const bare = (dryer: string) => dryer.replace(/\.yaml$/, "");

export default function HomePage() {
  const said = useSignal<Said | null>(null);
  const over = useSignal(false);
  const [demo, setDemo] = useState<Demo | null>(null);
  useEffect(() => {
    document.title = "dryfront";
    void import("../store/demo").then(setDemo, () => undefined);
    void refresh();
    return watchBriefs();
  }, []);

  const putDemo = async () => {
    try {
      await putBack(demo!.demo);
      changed("dryers");
    } catch (problem) {
      said.value = { text: reasonOf(problem), bad: true };
    }
  };
  const empty = jobs.value?.length === 0 && dryers.value?.length === 0;
  useEffect(() => {
    if (demo === null || !empty || !reachable.value) return;
    /* It comes by itself only into a workspace in which nothing was ever kept. */
    get("about").then(
      ({ body }) => {
        if (!(body as About).begun) void putDemo();
      },
      (problem: unknown) => void reasonOf(problem),
    );
  }, [demo, empty, reachable.value]);

  const create = async () => {
    try {
      go(["job", await add("jobs", "new sample", newJob)]);
    } catch (problem) {
      said.value = { text: reasonOf(problem), bad: true };
    }
  };
  const brought = (done: string[], failed: string[]) => {
    const text = [...(done.length === 0 ? [] : [t("home.imported", { names: done.join(", ") })]), ...failed].join(" ");
    if (text !== "") said.value = { text, bad: failed.length > 0 };
  };
  const exportAll = async () => {
    try {
      for (const kind of ["jobs", "dryers", "containers", "solutes", "substances"] as const) {
        const list = ((await get(`workspace/${kind}`)).body as Partial<Record<string, Listed[]>>)[kind] ?? [];
        for (const one of list) {
          download(`${one.name}.yaml`, (await get(`workspace/${kind}/${encodeURIComponent(one.name)}`)).body as string, "application/yaml");
          await new Promise((rest) => setTimeout(rest, 150)); // browsers drop downloads that come too close
        }
      }
    } catch (problem) {
      said.value = { text: reasonOf(problem), bad: true };
    }
  };
  const removeAll = async (these: { kind: "jobs" | "dryers"; name: string }[], say: (count: number) => string) => {
    const gone: Removed[] = [];
    try {
      for (const { kind, name } of these) {
        const one = await take(kind, name);
        if (one !== null) gone.push(one);
      }
      said.value = { text: say(gone.length), undo: gone };
    } catch (problem) {
      said.value = { text: reasonOf(problem), bad: true, undo: gone };
    }
    changed("dryers");
  };
  const undo = async (texts: Removed[]) => {
    try {
      await putBack([...texts].sort((a, b) => a.kind.localeCompare(b.kind)));
      said.value = null;
    } catch (problem) {
      said.value = { text: reasonOf(problem), bad: true, undo: texts };
    }
    changed("dryers");
  };

  /* What the list shows as the demo's, as far as texts are known; clearing looks at the texts themselves. */
  const named = (kind: "jobs" | "dryers", name: string) => demo?.demo.some((one) => one.kind === kind && one.name === name) ?? false;
  const demoJobs = (jobs.value ?? []).filter((job) => {
    const head = briefs.value[job.name]?.head;
    return named("jobs", job.name) && (head === undefined || demo!.isDemo("jobs", job.name, head));
  });
  const ownDryers = (jobs.value ?? []).filter((job) => !demoJobs.includes(job)).map((job) => briefs.value[job.name]?.dryer ?? "");
  const demoDryers = (dryers.value ?? []).filter((one) => named("dryers", one.name) && !ownDryers.some((dryer) => bare(dryer) === one.name));
  const clearDemo = async () => {
    try {
      const textOf = async (kind: "jobs" | "dryers", one: Listed) => ({ kind, name: one.name, text: (await get(`workspace/${kind}/${encodeURIComponent(one.name)}`)).body as string });
      const all = await Promise.all([...(jobs.value ?? []).map((one) => textOf("jobs", one)), ...(dryers.value ?? []).filter((one) => named("dryers", one.name)).map((one) => textOf("dryers", one))]);
      const ofDemo = all.filter((one) => demo!.isDemo(one.kind, one.name, one.text));
      const needed = all.filter((one) => one.kind === "jobs" && !ofDemo.includes(one)).map((one) => bare(new Yaml(one.text).at(["dryer"])));
      await removeAll(ofDemo.filter((one) => one.kind === "jobs" || !needed.includes(one.name)), (count) => t("home.demo.cleared", { count }));
    } catch (problem) {
      said.value = { text: reasonOf(problem), bad: true };
    }
  };

  return (
    <div
      class={over.value ? "stack dropping" : "stack"}
      onDragOver={(event) => {
        if (!event.dataTransfer?.types.includes("Files")) return;
        event.preventDefault();
        over.value = true;
      }}
      onDragLeave={(event) => {
        if (!event.currentTarget.contains(event.relatedTarget as Node | null)) over.value = false;
      }}
      onDrop={(event) => {
        event.preventDefault();
        over.value = false;
        void bring([...(event.dataTransfer?.files ?? [])], kindOf).then(({ done, failed }) => brought(done, failed));
      }}
    >
      <div class="row between">
        <div class="intro">
          <h1>{t("home.title")}</h1>
          <p class="quiet">{t("home.what")}</p>
        </div>
        <div class="row no-print">
          <button class="main" onClick={() => void create()}>{t("home.new")}</button>
          <BringButton label={t("home.import")} title={t("home.import.hint")} kindOf={kindOf} said={brought} />
          <Menu label={t("home.more")}>
            <button role="menuitem" onClick={() => void exportAll()}>{t("home.export_all")}</button>
            {demo !== null && <button role="menuitem" onClick={() => void putDemo()}>{t("home.demo.put")}</button>}
          </Menu>
        </div>
      </div>
      {said.value !== null && (
        <div class={said.value.bad ? "note alarm row" : "note row"} role={said.value.bad ? "alert" : "status"}>
          <span>{said.value.text}</span>
          {said.value.undo !== undefined && said.value.undo.length > 0 && <button onClick={() => void undo(said.value!.undo!)}>{t("kept.undo")}</button>}
          <button class="plain" onClick={() => (said.value = null)} aria-label={t("home.close")}>×</button>
        </div>
      )}
      {demoJobs.length + demoDryers.length > 0 && (
        <p class="note row no-print">
          <span>{t("home.demo.is")}</span>
          <button onClick={() => void clearDemo()}>{t("home.demo.clear", { count: demoJobs.length + demoDryers.length })}</button>
        </p>
      )}
      <Samples empty={empty} create={create} onRemove={(name, title) => void removeAll([{ kind: "jobs", name }], () => t("home.removed", { name: title }))} onProblem={(text) => (said.value = { text, bad: true })} isDemo={(job) => demoJobs.includes(job)} />
      <Dryers />
    </div>
  );
}

/* What a file is, by the fields that only its kind has. */
function kindOf(text: string): Kind {
  const yaml = new Yaml(text);
  if (yaml.has(["chamber"])) return "dryers";
  if (yaml.has(["substances"])) return "substances";
  if (yaml.has(["key"])) return yaml.has(["brim_volume"]) || yaml.has(["kind"]) ? "containers" : "solutes";
  return "jobs";
}

interface SamplesGiven {
  empty: boolean;
  create: () => Promise<void>;
  onRemove: (name: string, title: string) => void;
  onProblem: (text: string) => void;
  isDemo: (job: Listed) => boolean;
}

function Samples({ empty, create, onRemove, onProblem, isDemo }: SamplesGiven) {
  const { find = "", stands = "" } = place.value.query;
  const order = (orders.find((one) => one === place.value.query.by) ?? "name") as Order;
  const down = place.value.query.down !== undefined;
  if (jobs.value === null) return <section class="sheet" aria-label={t("home.jobs")}><p class="quiet">{t("loading")}</p></section>;
  if (jobs.value.length === 0) {
    return (
      <section class="sheet stack" aria-label={t("home.jobs")}>
        <h2>{t("home.jobs")}</h2>
        <p>{t(empty ? "home.empty" : "home.no_jobs")}</p>
        <div><button class="main" onClick={() => void create()}>{t("home.new")}</button></div>
      </section>
    );
  }
  const rests = foundation();
  const rows = jobs.value.map((job) => ({ job, brief: briefs.value[job.name] }));
  const asked = find.trim().toLowerCase();
  const shown = rows
    .filter(({ job, brief }) => asked === "" || [job.name, brief?.title, brief?.dryer, brief?.composition, brief?.purpose].some((text) => text?.toLowerCase().includes(asked)))
    .filter(({ brief }) => stands === "" || brief?.standing === stands)
    .sort((a, b) => (down ? -1 : 1) * compare(order, a, b));
  const head = (key: Order, numeric = false) => (
    <th role="columnheader" class={numeric ? "n" : undefined} aria-sort={order !== key ? undefined : down ? "descending" : "ascending"}>
      <button class="plain sorter" onClick={() => adjust({ by: key === "name" ? "" : key, down: order === key && !down ? "1" : "" })}>
        {t(`home.by.${key}`)} <span aria-hidden="true">{order !== key ? "" : down ? "▾" : "▴"}</span>
      </button>
    </th>
  );
  return (
    <section class="sheet stack" aria-label={t("home.jobs")}>
      <div class="row between">
        <h2>{t("home.jobs")} <span class="faint">{shown.length === rows.length ? rows.length : t("home.some", { some: shown.length, all: rows.length })}</span></h2>
        <div class="row no-print">
          <input type="search" style={{ width: "200px" }} aria-label={t("home.find")} placeholder={t("home.find")} value={find} onInput={(event) => adjust({ find: event.currentTarget.value })} />
          <select style={{ width: "auto" }} aria-label={t("home.stands")} value={stands} onChange={(event) => adjust({ stands: event.currentTarget.value })}>
            <option value="">{t("home.stands.any")}</option>
            {ranks.filter((one) => one !== null).map((one) => <option key={one} value={one}>{t(`standing.${one}` as TextKey)}</option>)}
          </select>
          <select class="narrow-only" style={{ width: "auto" }} aria-label={t("home.order")} value={order} onChange={(event) => adjust({ by: event.currentTarget.value, down: "" })}>
            {orders.map((one) => <option key={one} value={one}>{t(`home.by.${one}`)}</option>)}
          </select>
        </div>
      </div>
      {shown.length === 0 ? <p class="quiet">{t("home.none_found")}</p> : (
        <table class="samples" role="table">
          <thead role="rowgroup">
            <tr role="row">{head("name")}{head("standing")}{head("dryer")}{head("purpose")}{head("time", true)}<th role="columnheader"><span class="only-read">{t("home.actions")}</span></th></tr>
          </thead>
          <tbody role="rowgroup">
            {shown.map(({ job, brief }) => {
              const title = brief?.title ?? job.name;
              return (
                <tr key={job.name} role="row">
                  <th role="rowheader" class="title">
                    <a href={address(["job", job.name])}>{title}</a>{isDemo(job) && <span class="small faint demo"> {t("home.demo.one")}</span>}
                    <p class="small faint">{brief?.composition}</p>
                  </th>
                  <td role="cell" class={current(job, rests) ? "stands" : "stands stale"}><Stands job={job} brief={brief} /></td>
                  <td role="cell" class="number">{brief?.dryer}</td>
                  <td role="cell">{brief === undefined ? "" : textOf(`purpose.${brief.purpose}`, brief.purpose)}</td>
                  <td role="cell" class="n">{brief?.drying_h == null ? "–" : duration(brief.drying_h)}</td>
                  <td role="cell" class="act">
                    <Menu label="⋯" name={t("home.actions_of", { name: title })}>
                      <button role="menuitem" onClick={() => void copy(job).catch((problem: unknown) => onProblem(reasonOf(problem)))}>{t("kept.copy")}</button>
                      <button role="menuitem" onClick={() => void save(job).catch((problem: unknown) => onProblem(reasonOf(problem)))}>{t("kept.export")}</button>
                      <button role="menuitem" onClick={() => onRemove(job.name, title)}>{t("home.remove")}</button>
                    </Menu>
                  </td>
                </tr>
              );
            })}
          </tbody>
        </table>
      )}
    </section>
  );
}

function Stands({ job, brief }: { job: Listed; brief: Brief | undefined }) {
  if (brief?.standing) {
    return (
      <>
        <div class="row">
          <StandingBadge standing={brief.standing} />
          <span class="small quiet">{brief.acceptable ? (brief.standing === "wetted" ? t("accept.care") : t("accept.yes")) : t("accept.no")}</span>
        </div>
        <p class="small faint why" title={brief.because}>{brief.because}</p>
      </>
    );
  }
  const why = job.problem ?? (brief !== undefined && brief.etag === job.etag ? brief.because : "");
  if (why !== "" && why !== null) return <p class="small note alarm">{why}</p>;
  return <span class="small faint">{reachable.value ? t("home.judging") : t("server.unreachable")}</span>;
}

interface Row {
  job: Listed;
  brief: Brief | undefined;
}

function compare(order: Order, a: Row, b: Row): number {
  const title = (row: Row) => row.brief?.title ?? row.job.name;
  const by =
    order === "standing" ? ranks.indexOf(a.brief?.standing ?? null) - ranks.indexOf(b.brief?.standing ?? null)
    : order === "time" ? (a.brief?.drying_h ?? Infinity) - (b.brief?.drying_h ?? Infinity)
    : order === "dryer" ? (a.brief?.dryer ?? "").localeCompare(b.brief?.dryer ?? "")
    : order === "purpose" ? (a.brief?.purpose ?? "").localeCompare(b.brief?.purpose ?? "")
    : 0;
  return by || title(a).localeCompare(title(b), undefined, { numeric: true });
}

const textOfJob = async (job: Listed) => (await get(`workspace/jobs/${encodeURIComponent(job.name)}`)).body as string;

async function copy(job: Listed): Promise<void> {
  const text = await textOfJob(job);
  const yaml = new Yaml(text);
  const title = yaml.at(["job"]);
  await add("jobs", job.name, yaml.problem === null && title !== "" ? yaml.with(["job"], t("home.copy_of", { name: title }).slice(0, 95)) : text);
}

async function save(job: Listed): Promise<void> {
  download(`${job.name}.yaml`, await textOfJob(job), "application/yaml");
}

function Dryers() {
  return (
    <section class="sheet stack" aria-label={t("home.dryers")}>
      <div class="row between">
        <h2>{t("home.dryers")}</h2>
        <span class="row small">
          <a href={address(["ceilings"], { dryers: [...(dryers.value ?? []).map((one) => one.name), ...builtInDryers.value.map((one) => one.key)].slice(0, 4).join(",") })}>{t("home.ceilings_all")}</a>
          <a href={address(["dryers"])}>{t("nav.dryers")}</a>
        </span>
      </div>
      <ul class="dryer-list">
        {(dryers.value ?? []).map((dryer) => (
          <li key={dryer.name} class="row between">
            <span><a href={address(["dryer", dryer.name])}>{dryer.name}</a> {!dryer.sound && <span class="small note alarm">{dryer.problem}</span>}</span>
            <a class="small" href={address(["ceilings"], { dryers: dryer.name })}>{t("home.ceilings_of", { name: dryer.name })}</a>
          </li>
        ))}
        {builtInDryers.value.map((dryer) => (
          <li key={dryer.key} class="row between">
            <span><a href={address(["dryer", dryer.key])}>{dryer.key}</a> <span class="small faint">{dryer.name}, {t("home.built_in")}</span></span>
            <a class="small" href={address(["ceilings"], { dryers: dryer.key })}>{t("home.ceilings_of", { name: dryer.key })}</a>
          </li>
        ))}
      </ul>
    </section>
  );
}
