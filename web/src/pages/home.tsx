/* The laboratory: the jobs and dryers at hand, a new job, files from elsewhere. */
import { useEffect, useRef } from "preact/hooks";
import { useSignal } from "@preact/signals";
import { Refused } from "../api/client";
import { address, go } from "../store/place";
import { add, dryers, jobs, refresh } from "../store/workspace";
import { Yaml } from "../store/yaml";
import { newJob } from "../store/new";
import { t } from "../text/text";

export default function HomePage() {
  const problem = useSignal("");
  const file = useRef<HTMLInputElement>(null);
  useEffect(() => {
    document.title = "dryfront";
    void refresh();
  }, []);
  const create = async () => {
    try {
      go(["job", await add("jobs", "new sample", newJob)]);
    } catch (reason) {
      problem.value = reason instanceof Error ? reason.message : String(reason);
    }
  };
  const bring = async (files: FileList | null) => {
    problem.value = "";
    for (const one of files ?? []) {
      const text = await one.text();
      const kind = new Yaml(text).has(["chamber"]) ? "dryers" : "jobs";
      try {
        await add(kind, one.name.replace(/\.ya?ml$/i, ""), text);
      } catch (reason) {
        problem.value = `${one.name}: ${reason instanceof Refused ? reason.message : t("server.unreachable")}`;
      }
    }
    if (file.current !== null) file.current.value = "";
  };
  return (
    <div class="stack">
      <div class="row between">
        <h1>{t("home.title")}</h1>
        <div class="row">
          <button class="main" onClick={() => void create()}>{t("home.new")}</button>
          <button onClick={() => file.current?.click()}>{t("home.import")}</button>
          <input ref={file} type="file" accept=".yaml,.yml" multiple hidden aria-label={t("home.import")} onChange={(event) => void bring(event.currentTarget.files)} />
        </div>
      </div>
      {problem.value !== "" && <p class="note alarm" role="alert">{problem.value}</p>}
      <div class="columns">
        <section class="sheet" aria-label={t("home.jobs")}>
          <h2>{t("home.jobs")}</h2>
          {jobs.value === null ? <p class="quiet">{t("loading")}</p> : jobs.value.length === 0 ? <p class="quiet">{t("home.no_jobs")}</p> : (
            <ul class="stack">
              {jobs.value.map((job) => (
                <li key={job.name}>
                  <a href={address(["job", job.name])}>{job.name}</a>
                  {!job.sound && <span class="small faint"> {job.problem}</span>}
                </li>
              ))}
            </ul>
          )}
        </section>
        <section class="sheet" aria-label={t("home.dryers")}>
          <h2>{t("home.dryers")}</h2>
          <ul class="stack">
            {(dryers.value ?? []).map((dryer) => (
              <li key={dryer.name}>
                <a href={address(["dryer", dryer.name])}>{dryer.name}</a>
                {!dryer.sound && <span class="small faint"> {dryer.problem}</span>}
              </li>
            ))}
          </ul>
        </section>
      </div>
    </div>
  );
}
