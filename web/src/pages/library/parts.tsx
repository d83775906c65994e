/* What the three lists of the library share: a search that stands in the address, new and imported files, the workspace's own. */
import type { ComponentChildren } from "preact";
import { useId } from "preact/hooks";
import { get } from "../../api/client";
import { download } from "../../parts/figure";
import { Menu } from "../../parts/menu";
import { BringButton, useDrop, useTried } from "../../parts/shelf";
import { newOwn } from "../../store/new_own";
import { address, adjust, go, place } from "../../store/place";
import { add, own, type OwnKind } from "../../store/workspace";
import { t } from "../../text/text";

export const pageOfKind = { containers: "container", solutes: "solute", substances: "substance" } as const;

/** What is looked for, in lower case. */
export function asked(): string {
  return (place.value.query.q ?? "").trim().toLowerCase();
}

export function Tools({ kind, found }: { kind: OwnKind; found: number }) {
  const { problem, say, tried } = useTried();
  const id = useId();
  return (
    <>
      <div class="row between no-print">
        <div class="row">
          <label for={id} class="only-read">{t("library.search")}</label>
          <input id={id} type="search" placeholder={t("library.search")} value={place.value.query.q ?? ""} style={{ width: "240px" }} onInput={(event) => adjust({ q: event.currentTarget.value })} />
          <span class="small quiet" role="status">{asked() !== "" && t("library.found", { count: found })}</span>
        </div>
        <div class="row">
          <button class="main" onClick={() => void tried(async () => go([pageOfKind[kind], await addNew(kind)]))}>{t(`library.new.${kind}`)}</button>
          <BringButton label={t("dryers.import")} kindOf={() => kind} said={(_, failed) => say(failed.join(" "))} />
        </div>
      </div>
      {problem}
      <Own kind={kind} tried={tried} />
    </>
  );
}

/* A new one under the first free name, which is its key as well. */
async function addNew(kind: OwnKind): Promise<string> {
  const taken = new Set(own.value[kind].map((one) => one.name));
  let key = t(`library.key.${kind}`);
  for (let i = 2; taken.has(key); i++) key = `${t(`library.key.${kind}`)}-${i}`;
  return add(kind, key, newOwn(kind, key));
}

/** The workspace's own files, sound or not. */
function Own({ kind, tried }: { kind: OwnKind; tried: (what: () => Promise<void>) => Promise<void> }) {
  const listed = own.value[kind];
  const { note, drop } = useDrop(kind, tried);
  if (listed.length === 0 && note === false) return null;
  const save = (name: string) => tried(async () => download(`${name}.yaml`, (await get(`workspace/${kind}/${encodeURIComponent(name)}`)).body as string, "application/yaml"));
  return (
    <section class="sheet" aria-label={t(`library.own.${kind}`)}>
      <h2>{t(`library.own.${kind}`)}</h2>
      <ul>
        {listed.map((one) => (
          <li key={one.name} class="row between own-row">
            <span style={{ minWidth: 0 }}>
              <a href={address([pageOfKind[kind], one.name])}>{one.name}</a>
              {!one.sound && <span class="wrong small"> {one.problem}</span>}
            </span>
            <Menu label={t("dryers.more")} name={t("dryers.more_of", { name: one.name })}>
              <button role="menuitem" onClick={() => void save(one.name)}>{t("kept.export")}</button>
              <button role="menuitem" onClick={() => drop(one.name)}>{t("dryers.remove")}</button>
            </Menu>
          </li>
        ))}
      </ul>
      {note}
    </section>
  );
}

interface Head<T> {
  key: string;
  text: string;
  number?: boolean;
  /** What it is ordered by; null stands last. */
  by: (one: T) => string | number | null;
}

/** The entries in the order that the address asks for: a column, or one backwards. */
function ordered<T>(all: T[], heads: readonly Head<T>[]): T[] {
  const order = place.value.query.by ?? "";
  const head = heads.find((one) => one.key === order.replace(/^-/, ""));
  if (head === undefined) return all;
  const sign = order.startsWith("-") ? -1 : 1;
  return [...all].sort((a, b) => {
    const [x, y] = [head.by(a), head.by(b)];
    if (x === null || y === null) return x === y ? 0 : x === null ? 1 : -1;
    return sign * (typeof x === "number" && typeof y === "number" ? x - y : String(x).localeCompare(String(y)));
  });
}

function Heads<T>({ heads }: { heads: readonly Head<T>[] }) {
  const order = place.value.query.by ?? "";
  return (
    <tr>
      {heads.map((one) => {
        const sort = order === one.key ? "ascending" : order === `-${one.key}` ? "descending" : undefined;
        return (
          <th key={one.key} scope="col" class={one.number ? "n" : undefined} aria-sort={sort}>
            <button type="button" class="plain sorter" onClick={() => adjust({ by: sort === "ascending" ? `-${one.key}` : sort === "descending" ? "" : one.key })}>
              {one.text}
              <span aria-hidden="true">{sort === "ascending" ? " ▴" : sort === "descending" ? " ▾" : ""}</span>
            </button>
          </th>
        );
      })}
    </tr>
  );
}

/** A list as a table: `heads` order it, `row` has the cells of one, the first of them its name. */
export function Listing<T extends { key: string }>({ label, heads, found, row }: { label: string; heads: readonly Head<T>[]; found: T[]; row: (one: T) => ComponentChildren }) {
  return (
    <section class="sheet">
      <div class="scroll" tabIndex={0} role="region" aria-label={label}>
        <table class="cards" aria-label={label}>
          <thead><Heads heads={heads} /></thead>
          <tbody>{ordered(found, heads).map((one) => <tr key={one.key}>{row(one)}</tr>)}</tbody>
        </table>
      </div>
      {found.length === 0 && <p class="quiet">{t("library.nothing")}</p>}
    </section>
  );
}

export type { Head };
