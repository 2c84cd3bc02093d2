// Keeps the page on the phone. What stands above, the name of the release and its files, is put there by the service.
/* global RELEASE, FILES */

self.addEventListener("install", (event) => {
  const all = FILES.map((file) => new Request(file, { cache: "reload" }));
  event.waitUntil(caches.open(RELEASE).then((cache) => cache.addAll(all)));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(dropOthers().then(() => self.clients.claim()));
});

self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin || !FILES.includes(pathname)) return;
  event.respondWith(caches.open(RELEASE).then(async (cache) => (await cache.match(pathname)) ?? fetch(request)));
});

async function dropOthers() {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith("headbench-") && name !== RELEASE);
  await Promise.all(old.map((name) => caches.delete(name)));
}
