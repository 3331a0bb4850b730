// The service worker: answers with what the phone keeps where the service does
// not answer, and sends what waits when the browser says that there is signal.
// It takes no record of its own: pages put those on the phone.
import { shell, keptName, ask, keepOpened, forget, fromKept, shellPage, keepPages } from "./keep.js";
import { waiting, note, setNote } from "./db.js";
import { drain, tellLeft } from "./send.js";

const patienceForPages = 2000; // before a kept page is shown, in milliseconds
const unanswered = [502, 503, 504]; // what a proxy says for a service that is away

self.addEventListener("install", (e) => e.waitUntil((async () => {
  const cache = await caches.open(shell);
  await cache.addAll(self.build.shell.map((path) => new Request(path, { credentials: "omit" })));
  await self.skipWaiting();
})()));

self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (url.origin !== location.origin) return;
  if (e.request.method === "POST" && e.request.mode === "navigate") {
    e.respondWith(url.pathname === "/sign-out" ? signOut(e.request, url.search) : fetch(e.request).catch(() => shellPage("/no-signal")));
  } else if (e.request.method === "GET" && url.pathname.startsWith("/assets/")) {
    e.respondWith(caches.match(e.request, { ignoreVary: true }).then((kept) => kept || fetch(e.request)));
  } else if (e.request.method === "GET" && e.request.mode === "navigate" && !url.pathname.startsWith("/api/")) {
    e.respondWith(openPage(e, url));
  }
});

// signOut forgets the person on this phone at once. Without signal, and where it
// only locks, the pages stay for the next one; the service is told later.
async function signOut(request, lock) {
  for (const [name, value] of [["nobody", true], ["said", ""], ["left", true]]) await setNote(name, value).catch(() => {});
  const r = await fetch(request).catch(() => null);
  if (!r || r.status >= 500) return shellPage("/no-signal");
  await setNote("left", false).catch(() => {});
  if (!lock) await forget().catch(() => {});
  return r;
}

// openPage asks the service, and shows the kept page where it does not answer
// soon. A page that comes later is kept, and the page shown says so.
async function openPage(e, url) {
  const here = await tellLeft(), kept = await fromKept(url).catch(() => null), name = keptName(url);
  const asked = !here ? Promise.resolve(null) : ask(e.request, name).then((r) => {
    // What was just recorded is said once, and not by a kept page again.
    const said = name === url.pathname && url.searchParams.has("done");
    if (name && r.ok && !r.headers.has("X-Kept-At")) e.waitUntil(Promise.resolve(said ? fetch(name) : r.clone()).then((x) => keepOpened(name, x)).catch(() => {}));
    return unanswered.includes(r.status) ? null : r;
  }, () => null);
  if (!kept) return await asked || shellPage(url.pathname === "/waiting-here" ? url.pathname : "/no-signal");
  const first = await Promise.race([asked, new Promise((r) => setTimeout(() => r("slow"), patienceForPages))]);
  if (first && first !== "slow") return first;
  if (first === "slow") e.waitUntil(asked.then((r) => r && tellFresh(e.resultingClientId)));
  return kept;
}

async function tellFresh(id) {
  const page = await self.clients.get(id);
  if (page) page.postMessage("fresh");
}

self.addEventListener("message", (e) => { if (e.data.keep) e.waitUntil(keepPages(e.data.keep, e.data.now).catch(() => {})); });

self.addEventListener("sync", (e) => e.waitUntil(drain({ force: true }).then(async (bags) => {
  if (bags.length) await keepPages(await note("keptFor"), true).catch(() => {});
  if ((await waiting()).some((r) => r.trouble === "unheard" || r.trouble === "later")) throw new Error("more to send"); // the browser tries again
})));
