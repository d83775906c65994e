/* What to do instead: ways to a dry product side by side, each to be looked into and taken over. */
import { useSignal } from "@preact/signals";
import { Fragment } from "preact";
import { useEffect, useRef } from "preact/hooks";
import type { Routes, RoutesRoute, Standing } from "../../api/types";
import { Asking, outOfDate } from "../../parts/asking";
import { csvText, download } from "../../parts/figure";
import { StandingBadge, type StandingWord } from "../../parts/standing";
import { stampOf, workOf } from "../../store/asked";
import { adjust, place } from "../../store/place";
import { duration, fixed, number, show } from "../../store/quantity";
import { takeAsCopy, takeOver } from "../../store/take";
import { builtInDryers, dryers } from "../../store/workspace";
import { Yaml } from "../../store/yaml";
import { t, type TextKey, textOf } from "../../text/text";
import type { JobGiven } from "../job";
import "../../style/advice.css";

/** A way, or the job as it is as far as it is known. */
type Way = Pick<RoutesRoute, "standing" | "machine_h" | "least_margin_K" | "least_margin_sigma_K" | "because"> & {
  hands_on_min: number | null;
  vented_g: number | null;
  chance_percent: number | null;
  cost_h: number | null;
  /** What the answer says of it in full; null: the job as it is, of which only its run is known. */
  route: RoutesRoute | null;
  /** Place in the server's order, from 1; 0: the job as it is. */
  place: number;
};

/* What is compared: how it is shown, and whether a short bar helps the eye. */
const columns = [
  { key: "machine_h", text: (way: Way) => duration(way.machine_h) },
  { key: "hands_on_min", text: (way: Way) => duration(way.hands_on_min === null ? null : way.hands_on_min / 60) },
  { key: "vented_g", text: (way: Way) => grams(way.vented_g) },
  { key: "least_margin_K", text: (way: Way) => `${show(way.least_margin_K, "temperature difference")}${way.least_margin_sigma_K === null || way.least_margin_K === null ? "" : ` ± ${fixed(way.least_margin_sigma_K, 1)}`}` },
  { key: "chance_percent", text: (way: Way) => (way.chance_percent === null ? "–" : `${fixed(way.chance_percent, 0)} %`) },
  { key: "cost_h", text: (way: Way) => (way.cost_h === null ? "–" : `${fixed(way.cost_h, 0)} h`) },
] as const;
type Column = (typeof columns)[number]["key"];
const orders: StandingWord[] = ["rigid", "wetted", "afloat", "unheld"];

const name = (key: string) => key.replace(/_/g, " ");

function grams(value: number | null): string {
  if (value === null) return "–";
  if (value <= 0) return "0";
  return value < 1e-3 ? `<${show(1e-3, "mass", 1)}` : show(value, "mass");
}

export function RoutesPage({ kept, judge }: JobGiven) {
  const work = workOf<Routes>("routes", kept.name);
  const query = place.value.query;
  const others = (query.others ?? "").split(",").filter((one) => one !== "");
  const request = { job: kept.text.value, ...(others.length === 0 ? {} : { dryer: others }) };
  /* A job that cannot stay as it is needs a way: it is looked for without being asked. */
  const opening = useRef(true);
  const answer = judge.answer.value;
  const fresh = answer !== null && !judge.stale.value && judge.fault.value === null;
  useEffect(() => {
    if (!opening.current || !fresh) return;
    opening.current = false;
    if (!answer.acceptable && work.progress.value === null && (work.answer.value === null || outOfDate(work, request)))
      void work.ask("routes", request, stampOf(request));
  }, [fresh]);
  const routes = work.answer.value;
  const old = outOfDate(work, request);
  return (
    <div class="stack">
      <Asking title={t("job.routes")} work={work} path="routes" request={request} ask={t("routes.ask")} hint={t("routes.hint")} barred={judge.fault.value !== null}>
        <OtherDryers own={new Yaml(kept.text.value).at(["dryer"])} chosen={others} />
      </Asking>
      {routes !== null && (
        <div class={old || work.progress.value !== null ? "stack stale" : "stack"}>
          <Answer routes={routes} now={old ? null : answer} kept={kept} />
        </div>
      )}
    </div>
  );
}

function OtherDryers({ own, chosen }: { own: string; chosen: string[] }) {
  const all = [...new Set([...(dryers.value ?? []).filter((one) => one.sound).map((one) => one.name), ...builtInDryers.value.map((one) => one.key)])].filter((one) => one !== own);
  if (all.length === 0) return null;
  const pick = (one: string, on: boolean) => adjust({ others: (on ? [...chosen, one] : chosen.filter((other) => other !== one)).join(",") });
  return (
    <details open={chosen.length > 0}>
      <summary>{t("routes.others")}</summary>
      <div class="row">
        {all.map((one) => (
          <label key={one} class="row small" style={{ gap: "5px" }}>
            <input type="checkbox" checked={chosen.includes(one)} onChange={(event) => pick(one, event.currentTarget.checked)} />
            {one}
          </label>
        ))}
      </div>
    </details>
  );
}

function asWay(route: RoutesRoute, at: number): Way {
  return { ...route, route, place: at };
}

/* The job as it is: from the answer where it serves itself, else from the run that the page shows. */
function asItIs(routes: Routes, now: Standing | null): Way {
  const own = routes.routes.find((route) => route.actions.length === 0);
  if (own !== undefined) return asWay(own, 0);
  const worst = now?.run?.classes.reduce<number | null>((least, c) => (c.least_margin_K === null ? least : least === null ? c.least_margin_K : Math.min(least, c.least_margin_K)), null) ?? null;
  return {
    standing: now?.standing ?? routes.as_it_is,
    machine_h: now?.run?.end === "dry" ? now.run.time_h : null,
    hands_on_min: null,
    vented_g: null,
    least_margin_K: worst,
    least_margin_sigma_K: now?.bands?.least_margin_sigma_K ?? null,
    chance_percent: null,
    cost_h: null,
    because: now?.because ?? "",
    route: null,
    place: 0,
  };
}

function Answer({ routes, now, kept }: { routes: Routes; now: Standing | null; kept: JobGiven["kept"] }) {
  const found = routes.routes.filter((route) => route.actions.length > 0);
  const reference = asItIs(routes, now);
  const { search } = routes;
  const nearest = found.length === 0 && routes.nearest !== null && routes.nearest.actions.length > 0 ? [asWay(routes.nearest, 1)] : [];
  const nothing = routes.routes.length === 0;
  return (
    <>
      {nothing && (
        <section class="sheet stack" aria-label={t("routes.nothing")}>
          <h2>{t("routes.nothing")}</h2>
          <p>{t("routes.nothing.why", { actions: search.actions, combinations: search.combinations, runs: search.runs, purpose: t(`purpose.${routes.purpose}`) })}</p>
          {routes.nearest !== null && (
            <p>
              {t("routes.nearest", { by: textOf(`miss.${routes.misses_by}`, routes.misses_by).replace("{value}", number(routes.missing, 2)) })} {routes.nearest.because}.
            </p>
          )}
        </section>
      )}
      <section class="sheet stack" aria-label={t("routes.side_by_side")}>
        <div class="row between">
          <h2>{nothing ? t("routes.nearest.title") : t("routes.side_by_side")}</h2>
          <button class="plain no-print" onClick={() => download("dryfront-routes.csv", csvOf([reference, ...found.map((route, i) => asWay(route, i + 1)), ...nearest]), "text/csv")}>{t("figure.csv")}</button>
        </div>
        {found.length === 0 && !nothing && <p>{routes.as_it_is === "rigid" ? t("routes.rigid") : t("routes.only_so")}</p>}
        <Table reference={reference} ways={nothing ? nearest : found.map((route, i) => asWay(route, i + 1))} kept={kept} />
        <p class="small faint">{t("routes.reads")}</p>
        {search.combinations > 1 && (
          <p class="small faint">
            {t("routes.search", { actions: search.actions, combinations: search.combinations, runs: search.runs, impossible: search.impossible, serving: search.serving })}
            {search.unsolved > 0 && ` ${t("routes.unsolved", { count: search.unsolved })}`}
          </p>
        )}
        {routes.not_possible.length > 0 && (
          <details>
            <summary>{t("routes.not_possible")}</summary>
            <ul class="stack small" style={{ gap: "4px" }}>
              {routes.not_possible.map((one) => <li key={one.text + one.why}>{one.text}: <span class="quiet">{one.why}</span></li>)}
            </ul>
          </details>
        )}
      </section>
      <Cautions all={[...routes.routes, ...(routes.nearest === null ? [] : [routes.nearest])]} />
    </>
  );
}

/* Each caution that any of the ways asks for, in words, once. */
function Cautions({ all }: { all: RoutesRoute[] }) {
  const kinds = [...new Set(all.flatMap((route) => route.cautions))];
  return (
    <section class="caution small" aria-label={t("caution.title")}>
      <h3>{t("caution.title")}</h3>
      <ul class="stack" style={{ gap: "4px" }}>
        {kinds.map((kind) => <li key={kind}>{t(`routes.caution.${kind}`)}</li>)}
        <li>{t("caution.always")}</li>
      </ul>
    </section>
  );
}

function Table({ reference, ways, kept }: { reference: Way; ways: Way[]; kept: JobGiven["kept"] }) {
  const { sort = "place", down = "" } = place.value.query;
  const value = (way: Way) => (sort === "standing" ? orders.indexOf(way.standing) : sort === "place" ? way.place : (way[sort as Column] ?? null));
  const sorted = [...ways].sort((a, b) => {
    const [x, y] = [value(a), value(b)];
    if (x === null || x === undefined) return 1;
    if (y === null || y === undefined) return -1;
    return (x - y) * (down === "" ? 1 : -1);
  });
  const largest = (key: Column) => Math.max(...[reference, ...ways].map((way) => Math.abs(way[key] ?? 0)), 1e-12);
  const order = (key: string) => adjust(sort === key ? (down === "" ? { sort: key, down: "1" } : { sort: "", down: "" }) : { sort: key, down: key === "least_margin_K" || key === "chance_percent" ? "1" : "" });
  const head = (key: string, text: string, n = true) => (
    <th key={key} class={n ? "n sorted" : "sorted"} style={n ? {} : { paddingLeft: 0 }} aria-sort={sort === key ? (down === "" ? "ascending" : "descending") : undefined}>
      <button onClick={() => order(key)} title={t("routes.sort.by", { what: text })}>
        {text}
        <span aria-hidden="true">{sort === key ? (down === "" ? "↑" : "↓") : ""}</span>
      </button>
    </th>
  );
  return (
    <div class="fit">
      {ways.length > 1 && <div class="sort-choice row small no-print">
        <label class="row">
          {t("routes.sort")}
          <select style={{ width: "auto" }} value={sort} onChange={(event) => adjust({ sort: event.currentTarget.value === "place" ? "" : event.currentTarget.value, down: ["least_margin_K", "chance_percent"].includes(event.currentTarget.value) ? "1" : "" })}>
            <option value="place">{t("routes.cost_h")}</option>
            {columns.filter((c) => c.key !== "cost_h").map((c) => <option key={c.key} value={c.key}>{t(`routes.${c.key}`)}</option>)}
            <option value="standing">{t("job.standing")}</option>
          </select>
        </label>
      </div>}
      <table class="routes">
        <caption class="only-read">{t("routes.side_by_side")}</caption>
        <thead>
          <tr>
            {head("standing", t("routes.way"), false)}
            {columns.map((c) => head(c.key === "cost_h" ? "place" : c.key, t(`routes.${c.key}`)))}
          </tr>
        </thead>
        {[reference, ...sorted].map((way) => <Row key={way.place} way={way} largest={largest} kept={kept} />)}
      </table>
    </div>
  );
}

function Row({ way, largest, kept }: { way: Way; largest: (key: Column) => number; kept: JobGiven["kept"] }) {
  const open = useSignal(false);
  const { route } = way;
  const solvents = route?.where_it_goes.filter((one) => one.substance !== "water") ?? [];
  return (
    <tbody class={way.place === 0 ? "reference" : ""}>
      <tr>
        <th scope="row" class="actions">
          <div class="row">
            <StandingBadge standing={way.standing} />
            {way.place > 0 && <span class="faint small">{t("routes.number", { number: way.place })}</span>}
          </div>
          {route === null || route.actions.length === 0 ? <div>{t("routes.as_it_is")}</div> : <ol>{route.actions.map((action) => <li key={action.text}>{action.text}</li>)}</ol>}
        </th>
        {columns.map((c) => (
          <td class="n" key={c.key} data-label={t(`routes.${c.key}`)}>
            {c.text(way)}
            <Meter value={way[c.key]} most={c.key === "chance_percent" ? 100 : largest(c.key)} />
          </td>
        ))}
      </tr>
      <tr>
        <td class="aside" colSpan={columns.length + 1}>
          <dl>
            {route === null && way.because !== "" && <Fact label={t("routes.because")}>{way.because}</Fact>}
            {route !== null && way.standing !== "rigid" && <Fact label={t("routes.because")}>{way.because}</Fact>}
            {route !== null && route.to_be_had !== "" && <Fact label={t("routes.to_be_had")}>{route.to_be_had}</Fact>}
            {route !== null && solvents.length > 0 && <Fact label={t("routes.goes")}>{solvents.map(goesWhere).join("; ")}</Fact>}
            {route !== null && route.cautions.length > 0 && <Fact label={t("routes.beware")}>{route.cautions.map((kind) => <span key={kind} class="tag" style={{ marginRight: "5px" }}>{t(`routes.caution.${kind}.short`)}</span>)}</Fact>}
          </dl>
          {route !== null && (
            <div class="row no-print" style={{ marginTop: "6px" }}>
              {route.actions.length > 0 && <Take route={route} place={way.place} kept={kept} />}
              <button class="plain" aria-expanded={open.value} aria-label={`${t("routes.details")}: ${route.actions.map((action) => action.text).join("; ") || t("routes.as_it_is")}`} onClick={() => (open.value = !open.value)}>
                {t("routes.details")} <span aria-hidden="true">{open.value ? "▴" : "▾"}</span>
              </button>
            </div>
          )}
        </td>
      </tr>
      {open.value && route !== null && (
        <tr>
          <td colSpan={columns.length + 1}>
            <Details route={route} />
          </td>
        </tr>
      )}
    </tbody>
  );
}

function Fact({ label, children }: { label: string; children: preact.ComponentChildren }) {
  return (
    <>
      <dt>{label}</dt>
      <dd>{children}</dd>
    </>
  );
}

function goesWhere(one: RoutesRoute["where_it_goes"][number]): string {
  const places = (["trapped_g", "oil_g", "vented_g", "distilled_g"] as const).filter((key) => one[key] >= 1e-2).map((key) => `${t(`routes.${key}`)} ${grams(one[key])}`.replace(/ /g, "\u00a0"));
  return `${name(one.substance)}: ${places.length === 0 ? t("routes.traces") : places.join(", ")}`;
}

function Meter({ value, most }: { value: number | null; most: number }) {
  if (value === null) return null;
  return (
    <span class={value < 0 ? "meter under" : "meter"} aria-hidden="true">
      <i style={{ width: `${Math.min(100, (100 * Math.abs(value)) / most).toFixed(1)}%` }} />
    </span>
  );
}

function Take({ route, place: at, kept }: { route: RoutesRoute; place: number; kept: JobGiven["kept"] }) {
  const text = route.jobs[0];
  if (text === undefined) return null;
  const said = route.actions.map((action) => action.text).join("; ");
  return (
    <>
      <button class="main" aria-label={`${t("take_over")}: ${said}`} onClick={() => void takeOver(kept, text, route.dryers)}>{t("take_over")}</button>
      <button aria-label={`${t("take_copy")}: ${said}`} onClick={() => void takeAsCopy(`${kept.name} way ${at}`, text, route.dryers)}>{t("take_copy")}</button>
      {route.loads > 1 && <span class="small quiet">{t("routes.one_of", { count: route.loads })}</span>}
    </>
  );
}

function Details({ route }: { route: RoutesRoute }) {
  return (
    <div class="inner">
      <p class="quiet">{route.because}.</p>
      <dl class="facts">
        <div><dt>{t("form.dryer")}</dt><dd class="small">{route.dryer}</dd></div>
        <div><dt>{t("form.containers")}</dt><dd class="small">{route.containers} × {number(route.fill_mL)} mL{route.loads > 1 && `, ${t("routes.loads", { count: route.loads })}`}</dd></div>
        <div><dt>{t("routes.run_h")}</dt><dd class="small">{duration(route.run_h)}</dd></div>
        {route.boiling_h > 0 && <div><dt>{t("routes.boiling_h")}</dt><dd class="small">{duration(route.boiling_h)}</dd></div>}
        {route.purchase_cost_h > 0 && <div><dt>{t("routes.purchase")}</dt><dd class="small">{number(route.purchase_cost_h, 2)} h</dd></div>}
        <div><dt>{t("routes.bands")}</dt><dd class="small">{t(`standing.${route.best_standing}` as TextKey)} … {t(`standing.${route.worst_standing}` as TextKey)}</dd></div>
      </dl>
      {route.boilings.map((one, i) => (
        <Fragment key={i}>
          <h3>{t("routes.boiling")}</h3>
          <dl class="facts">
            <div><dt>{t("routes.bath")}</dt><dd class="small">{show(one.bath_C, "temperature")}</dd></div>
            <div><dt>{t("routes.flask")}</dt><dd class="small">{show(one.flask_C, "temperature")}</dd></div>
            <div><dt>{t("routes.pressure")}</dt><dd class="small">{show(one.pressure_from_mbar, "pressure", 2)} → {show(one.pressure_to_mbar, "pressure", 2)}</dd></div>
            <div><dt>{t("routes.put_in")}</dt><dd class="small">{show(one.put_in_g, "mass")}{one.loads > 1 && `, ${t("routes.loads", { count: one.loads })}`}</dd></div>
            <div><dt>{t("routes.stop_at")}</dt><dd class="small">{show(one.stop_at_g / one.loads, "mass")}{one.loads > 1 && ` ${t("routes.each")}`}</dd></div>
            <div><dt>{t("routes.takes")}</dt><dd class="small">{duration(one.time_h)}</dd></div>
            <div><dt>{t("routes.solvent")}</dt><dd class="small">{number(one.solvent_from_percent_v_v)} → {number(one.solvent_to_percent_v_v, 2)} % v/v</dd></div>
            {one.made_up_L > 0 && <div><dt>{t("routes.made_up")}</dt><dd class="small">{number(one.made_up_L)} L{one.added_solvent_L > 0 && `, ${t("routes.added", { litres: number(one.added_solvent_L) })}`}</dd></div>}
          </dl>
        </Fragment>
      ))}
      {route.recipe.length > 0 && (
        <>
          <h3>{t("form.recipe")}</h3>
          <table>
            <thead><tr><th class="n">{t("form.time")}</th><th class="n">{t("form.shelf")}</th><th class="n">{t("form.pressure")}</th></tr></thead>
            <tbody>
              {route.recipe.map((point) => (
                <tr key={point.time_h}>
                  <td class="n">{point.time_h === 0 ? show(0, "time") : duration(point.time_h)}</td>
                  <td class="n">{show(point.shelf_C, "temperature")}</td>
                  <td class="n">{point.chamber_pressure_mbar === null ? t("form.lowest") : show(point.chamber_pressure_mbar, "pressure")}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
      <h3>{t("routes.goes")}</h3>
      <div class="scroll" tabIndex={0} role="group" aria-label={t("routes.goes")}>
        <table>
          <thead>
            <tr>
              <th>{t("account.substance")}</th>
              {(["trapped_g", "oil_g", "vented_g", "distilled_g"] as const).map((key) => <th class="n" key={key}>{t(`routes.${key}`)}</th>)}
            </tr>
          </thead>
          <tbody>
            {route.where_it_goes.map((one) => (
              <tr key={one.substance}>
                <th>{name(one.substance)}</th>
                {(["trapped_g", "oil_g", "vented_g", "distilled_g"] as const).map((key) => <td class="n" key={key}>{grams(one[key])}</td>)}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {route.cautions.map((kind) => <p key={kind} class="note warning small">{t(`routes.caution.${kind}`)}</p>)}
    </div>
  );
}

function csvOf(ways: Way[]): string {
  return csvText([
    ["way", "standing", "machine_h", "hands_on_min", "vented_g", "least_margin_K", "least_margin_sigma_K", "chance_percent", "cost_h", "to_be_had"],
    ...ways.map((way) => [
      way.route === null || way.route.actions.length === 0 ? t("routes.as_it_is") : way.route.actions.map((action) => action.text).join("; "),
      way.standing, way.machine_h, way.hands_on_min, way.vented_g, way.least_margin_K, way.least_margin_sigma_K, way.chance_percent, way.cost_h, way.route?.to_be_had,
    ]),
  ]);
}
