/* What the three lists of the library share: a search that stands in the address, new and imported files, the workspace's own. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren } from "preact";
import { useId, useRef } from "preact/hooks";
import { get, Refused } from "../../api/client";
import { download } from "../../parts/figure";
import { Menu } from "../../parts/menu";
import { newOwn } from "../../store/new_own";
import { address, adjust, go, place } from "../../store/place";
import { add, changed, own, type OwnKind, putBack, type Removed, take } from "../../store/workspace";
import { t } from "../../text/text";

export const pageOfKind = { containers: "container", solutes: "solute", substances: "substance" } as const;

/** What is looked for, in lower case. */
export function asked(): string {
  return (place.value.query.q ?? "").trim().toLowerCase();
}

export function Tools({ kind, found }: { kind: OwnKind; found: number }) {
  const problem = useSignal("");
  const file = useRef<HTMLInputElement>(null);
  const id = useId();
  const tried = async (what: () => Promise<void>) => {
    problem.value = "";
    try {
      await what();
    } catch (reason) {
      problem.value = reason instanceof Refused ? reason.message : t("server.unreachable");
    }
  };
  const bring = (files: FileList | null) =>
    tried(async () => {
      for (const each of files ?? []) await add(kind, each.name.replace(/\.ya?ml$/i, ""), await each.text());
      if (file.current !== null) file.current.value = "";
    });
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
          <button onClick={() => file.current?.click()}>{t("dryers.import")}</button>
          <input ref={file} type="file" accept=".yaml,.yml" multiple hidden aria-label={t("dryers.import")} onChange={(event) => void bring(event.currentTarget.files)} />
        </div>
      </div>
      {problem.value !== "" && <p class="note alarm" role="alert">{problem.value}</p>}
      <Own kind={kind} />
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
function Own({ kind }: { kind: OwnKind }) {
  const listed = own.value[kind];
  const removed = useSignal<Removed | null>(null);
  if (listed.length === 0 && removed.value === null) return null;
  const text = async (name: string) => (await get(`workspace/${kind}/${encodeURIComponent(name)}`)).body as string;
  const drop = async (name: string) => {
    removed.value = await take(kind, name);
    changed(kind);
  };
  const restore = async () => {
    await putBack([removed.value!]);
    removed.value = null;
    changed(kind);
  };
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
              <button role="menuitem" onClick={() => void text(one.name).then((yaml) => download(`${one.name}.yaml`, yaml, "application/yaml"))}>{t("kept.export")}</button>
              <button role="menuitem" onClick={() => void drop(one.name)}>{t("dryers.remove")}</button>
            </Menu>
          </li>
        ))}
      </ul>
      {removed.value !== null && (
        <p class="note row" role="status">
          {t("dryers.removed", { name: removed.value.name })}
          <button onClick={() => void restore()}>{t("dryers.restore")}</button>
        </p>
      )}
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
export function ordered<T>(all: T[], heads: readonly Head<T>[]): T[] {
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

export function Heads<T>({ heads, children }: { heads: readonly Head<T>[]; children?: ComponentChildren }) {
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
      {children}
    </tr>
  );
}

export type { Head };
