/* How the pages ask the server. Nothing is computed here. */
import { signal } from "@preact/signals";

/** Whether the server answers; watched by every page. */
export const reachable = signal(true);

/** The server's refusal: one sentence, and where it knows them the line and field it is about. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly line: number | null = null,
    readonly field: string | null = null,
  ) {
    super(message);
  }
}

/** No answer came: the server is stopped or the way to it is. */
export class Unreachable extends Error {}

export interface Answer {
  body: unknown;
  etag: string | null;
  status: number;
  location: string | null;
}

const base = "/api/v1/";

async function send(method: string, path: string, init: RequestInit): Promise<Response> {
  try {
    const response = await fetch(path.startsWith("/") ? path : base + path, { method, ...init, cache: "no-store" });
    reachable.value = true;
    return response;
  } catch (problem) {
    if (problem instanceof DOMException && problem.name === "AbortError") throw problem;
    reachable.value = false;
    watch();
    throw new Unreachable(problem instanceof Error ? problem.message : String(problem));
  }
}

async function refusal(response: Response): Promise<Refused> {
  let message = `${response.status} ${response.statusText}`;
  let line: number | null = null;
  let field: string | null = null;
  try {
    const { error } = (await response.json()) as {
      error: { message: string; line?: number | null; field?: string | null };
    };
    message = error.message;
    line = error.line ?? null;
    field = error.field ?? null;
  } catch {
    /* An answer that is no JSON comes from something else than the server; its status says enough. */
  }
  return new Refused(response.status, message, line, field);
}

/** GET; the body is parsed where it is JSON, text otherwise. */
export async function get(path: string, abort?: AbortSignal): Promise<Answer> {
  return read(await send("GET", path, { signal: abort ?? null }));
}

async function read(response: Response): Promise<Answer> {
  if (!response.ok) throw await refusal(response);
  const type = response.headers.get("Content-Type") ?? "";
  const body: unknown =
    response.status === 204 ? null : type.includes("json") ? await response.json() : await response.text();
  return { body, etag: response.headers.get("ETag"), status: response.status, location: response.headers.get("Location") };
}

/** POST of a JSON object. */
export async function ask<T>(path: string, request: object, abort?: AbortSignal): Promise<T> {
  const init = { body: JSON.stringify(request), headers: { "Content-Type": "application/json" }, signal: abort ?? null };
  return (await read(await send("POST", path, init))).body as T;
}

/** PUT of a YAML text; `etag` null: it must not exist yet. */
export async function put(path: string, yaml: string, etag: string | null): Promise<Answer> {
  const headers: Record<string, string> = { "Content-Type": "application/yaml" };
  if (etag !== null) headers["If-Match"] = etag;
  return read(await send("PUT", path, { body: yaml, headers }));
}

export async function remove(path: string, etag: string): Promise<void> {
  await read(await send("DELETE", path, { headers: { "If-Match": etag } }));
}

export interface Progress {
  /** Done of the whole, 0 to 1; null while it waits for its turn. */
  share: number | null;
  /** What is being done, in the server's words; may be empty. */
  text: string;
}

/** Work that takes long: begun, followed by its events, stopped where `abort` says so. */
export async function askLater<T>(
  path: string,
  request: object,
  abort: AbortSignal,
  progress: (now: Progress) => void,
): Promise<T> {
  const headers = { "Content-Type": "application/json", Prefer: "respond-async" };
  const begun = await read(await send("POST", path, { body: JSON.stringify(request), headers, signal: abort }));
  const location = begun.location;
  if (begun.status !== 202 || location === null) return begun.body as T;
  return new Promise<T>((resolve, reject) => {
    const events = new EventSource(location);
    const end = () => {
      events.close();
      abort.removeEventListener("abort", stop);
    };
    const stop = () => {
      end();
      void fetch(location, { method: "DELETE" }).catch(() => undefined);
      reject(new DOMException("stopped", "AbortError"));
    };
    abort.addEventListener("abort", stop);
    if (abort.aborted) stop();
    /* The events broke off. Mostly the browser takes them up again; where it does not, the answer is asked for now and then. A
       server that is gone, or knows nothing of this work any more, is the end of it. */
    const lookAfter = async () => {
      try {
        const there = await send("GET", location, { signal: abort });
        if (there.status === 202) {
          if (events.readyState === EventSource.CLOSED) setTimeout(() => void lookAfter(), 1000);
          return;
        }
        end();
        if (there.ok) resolve((await there.json()) as T);
        else reject(await refusal(there));
      } catch (problem) {
        end();
        reject(problem);
      }
    };
    events.addEventListener("progress", (event) => {
      const now = JSON.parse((event as MessageEvent<string>).data) as { phase: string; share: number; text?: string };
      progress({ share: now.phase === "queued" ? null : now.share, text: now.text ?? "" });
    });
    events.addEventListener("result", (event) => {
      end();
      resolve(JSON.parse((event as MessageEvent<string>).data) as T);
    });
    events.addEventListener("error", (event) => {
      const data = (event as MessageEvent<string>).data;
      if (typeof data !== "string") {
        void lookAfter();
        return;
      }
      end();
      const { error } = JSON.parse(data) as { error: { status: number; message: string } };
      reject(new Refused(error.status, error.message));
    });
  });
}

let watching = false;
const returned = new Set<() => void>();

/** Calls `then` each time the server is back; returns how to end that. */
export function onReturn(then: () => void): () => void {
  returned.add(then);
  return () => returned.delete(then);
}

/* Asks again, with growing pauses, until the server answers. */
function watch(): void {
  if (watching) return;
  watching = true;
  let pause = 500;
  const again = async () => {
    try {
      await fetch(base + "workspace/jobs", { cache: "no-store" });
      watching = false;
      reachable.value = true;
      for (const then of [...returned]) then();
    } catch {
      pause = Math.min(pause * 1.5, 5000);
      setTimeout(() => void again(), pause);
    }
  };
  setTimeout(() => void again(), pause);
}
