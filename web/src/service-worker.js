/* Keeps the pages' own files at hand, so that they open when the server is stopped. What the server answers is never kept:
   every request but for these files goes to it. The build writes the list of files and the version in front. */
/* global files, version */
const own = `dryfront ${version}`;
const patience = 4000; // ms that the newest page is waited for before the kept one is shown

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches
      .open(own)
      .then((cache) => cache.addAll(files.map((file) => new Request(file, { cache: "reload" }))))
      .then(() => self.skipWaiting()),
  );
});

/* The version before stays: pages that are open still fetch their parts from it. */
self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches
      .keys()
      .then((names) => names.filter((name) => name.startsWith("dryfront ") && name !== own).slice(0, -1))
      .then((old) => Promise.all(old.map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

async function page(request) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), patience);
  try {
    const answer = await fetch(request, { signal: stop.signal });
    if (answer.ok) return answer;
  } catch {
    /* The server is gone: what is kept is shown. */
  } finally {
    clearTimeout(timer);
  }
  return (await (await caches.open(own)).match("/")) ?? Response.error();
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin || url.pathname.startsWith("/api/")) return;
  if (request.mode === "navigate") {
    if (url.pathname === "/") event.respondWith(page(request));
  } else if (url.pathname.startsWith("/assets/") || files.includes(url.pathname)) {
    event.respondWith(caches.match(request).then((kept) => kept ?? fetch(request)));
  }
});
