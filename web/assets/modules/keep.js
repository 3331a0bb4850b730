// The worker's part: pages that open without signal.
import { note, setNote } from "./db.js";

export const shell = "shell " + self.build.look;
const PAGES = "pages";

const rest = (ms) => new Promise((r) => setTimeout(r, ms));

// keptName is the address under which a page is kept, or nothing for a page
// that is not. Words after "?" make another page of the board and of vehicles.
export function keptName(url) {
  if (url.pathname === "/board" || url.pathname === "/vehicle") return url.pathname + url.search;
  if (url.pathname === "/waiting-here" || url.pathname === "/scan") return url.pathname;
  return /^\/b\/[^/]+(\/(seal-check|full-check|use|out-of-service))?$/.test(url.pathname) ? url.pathname : "";
}

const personOn = (html) => { const m = html.match(/<body[^>]* data-person="([^"]*)"/); return m ? m[1] : ""; };

// keepFor drops what was kept for somebody else, once, whoever asks first.
function keepFor(person) {
  return navigator.locks.request("stowkeeper-whose", async () => {
    if (await note("keptFor") === person) return;
    await forget();
    await setNote("keptFor", person);
  });
}

// put keeps a page as it was sent to somebody. What was kept for somebody else
// goes first.
async function put(name, response, mark, expect) {
  const html = await response.text(), whose = personOn(html);
  if (!whose || (expect !== undefined && whose !== expect)) return false;
  if (await note("keptFor") !== whose) {
    if (expect !== undefined) return false; // signed out in between
    await keepFor(whose);
  }
  if (!await note("left")) for (const n of ["nobody", "said"]) if (await note(n)) await setNote(n, "");
  const headers = { "X-Kept-At": String(Date.now()), "X-Mark": mark || "" };
  for (const h of ["Content-Type", "Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy"]) headers[h] = response.headers.get(h) || "";
  const cache = await caches.open(PAGES);
  await cache.put(name, new Response(html, { headers }));
  if (await note("keptFor") !== whose) await cache.delete(name);
  return true;
}

export function keepable(response) { return response.ok && response.type === "basic" && !response.redirected && /^text\/html/.test(response.headers.get("Content-Type") || ""); }

// keepOpened keeps a page that somebody opened.
export async function keepOpened(name, response) { if (name !== "/waiting-here" && keepable(response)) await put(name, response); }

const asOf = /<p class="asof">.*?<\/p>/;

// ask asks for a page. Where it is as it was kept, but for the keys of its forms
// and of when it is, the service says only that, and when.
export async function ask(request, name) {
  const kept = name && await caches.open(PAGES).then((c) => c.match(name)).catch(() => null);
  if (!kept) return fetch(request);
  const html = await kept.text(), same = html.replace(/name="key" value="[^"]*"/g, "").replace(asOf, "");
  const sum = [...new Uint8Array(await crypto.subtle.digest("SHA-256", new TextEncoder().encode(same)))].slice(0, 8).map((b) => b.toString(16).padStart(2, "0")).join("");
  const r = await fetch(new Request(request, { headers: { Accept: "text/html", "Kept-Page": sum } }));
  if (r.status !== 204) return r;
  const now = new Response(html.replace(asOf, () => decodeURIComponent(r.headers.get("As-Of"))), { headers: kept.headers });
  await put(name, now.clone(), kept.headers.get("X-Mark"));
  return now;
}

// forget drops every page that was kept.
export async function forget() {
  for (const name of ["keptFor", "looked"]) await setNote(name, "");
  await caches.delete(PAGES);
}

// asKept makes a page say how old it is, and who is said to look at it.
async function asKept(response, said) {
  const dim = async (name) => await note(name).catch(() => 0) > Date.now(), text = await response.text();
  const look = / data-night[ >]/.test(text) || await dim("look") || (!/<section class="verdict/.test(text) && await dim("vehicle_look"));
  let html = text.replace(/(<html lang="[^"]*")( class="night")?/, "$1" + (look ? ' class="night"' : "")).replace("<body", '<body data-kept="' + (response.headers.get("X-Kept-At") || Date.now()) + '"');
  if (said) html = html.replace(/ data-person="[^"]*"/, () => ' data-said data-person="' + said.replace(/&/g, "&amp;").replace(/"/g, "&quot;") + '"');
  return new Response(html, { headers: response.headers });
}

// fromKept answers with a kept page, or with nothing. Codes are found as the
// service finds them: case, hyphens and full stops apart.
export async function fromKept(url) {
  if (url.pathname === "/") return Response.redirect("/board", 302);
  const cache = await caches.open(PAGES), name = keptName(url);
  const found = name && await cache.match(name), said = await note("nobody") ? await note("said") : null;
  if (found && said !== "") return asKept(found, said);
  const m = url.pathname.match(/^\/b\/([^/]+)$/i), asked = { "/b": "code", "/search": "q" }[url.pathname];
  const typed = m ? decodeURIComponent(m[1]) : asked && url.searchParams.get(asked);
  const plain = (s) => s.toUpperCase().replace(/[-.\s]/g, "");
  for (const r of typed ? await cache.keys() : []) {
    const path = new URL(r.url).pathname, code = path.match(/^\/b\/([^/]+)$/);
    if (code && path !== url.pathname && plain(decodeURIComponent(code[1])) === plain(typed)) return Response.redirect(path, 302);
  }
  return null;
}

// shellPage answers with one of the pages that need nobody to be signed in.
export async function shellPage(path) {
  const found = await caches.match(path);
  return found ? asKept(found) : Response.error();
}

const oldest = 12 * 3600 * 1000; // after which a page is fetched again, in milliseconds
const soonest = 2 * 60 * 1000; // between two looks at what changed
const pause = 40; // between two answers, so that whoever holds the phone goes first

// keepPages brings what is kept for a person up to date, fetching only what changed. now passes over the rest between two looks.
export function keepPages(person, now) {
  return navigator.locks.request("stowkeeper-keep", { ifAvailable: !now }, async (lock) => {
    if (!lock) return; // somebody is at it
    const seen = await note("looked");
    if (!now && seen && seen.person === person && await note("keptFor") === person && seen.look === self.build.look && Date.now() - seen.at < soonest && Date.now() >= seen.at) return;
    const r = await fetch("/kept-pages", { headers: { Accept: "application/json" }, redirect: "manual" });
    if (!r.ok) return;
    const list = await r.json();
    if (list.person !== person) return;
    await keepFor(person);
    for (const [name, value] of [["names", list.names], ["nobody", ""], ["said", ""]]) await setNote(name, value);
    if (!list.pages.length) return;
    if (!await fetchAll(list)) return;
    await setNote("looked", { person, look: self.build.look, at: Date.now() });
    for (const name of await caches.keys()) if (name.startsWith("shell ") && name !== shell && list.look === self.build.look) await caches.delete(name);
  });
}

const atOnce = 16; // pages in one answer
const formOf = (path) => (path.match(/^\/b\/[^/]+(\/.*)/) || [])[1] || "";

// fetchAll fetches what changed, several pages that are alike in one answer,
// which says each line once.
async function fetchAll(list) {
  const cache = await caches.open(PAGES), due = [], forms = [...new Set(list.pages.map((p) => formOf(p.path)))];
  for (const p of list.pages) {
    const old = await cache.match(p.path);
    if (!old || old.headers.get("X-Mark") !== p.mark || Date.now() - old.headers.get("X-Kept-At") >= oldest) due.push(p);
  }
  due.sort((a, b) => forms.indexOf(formOf(a.path)) - forms.indexOf(formOf(b.path)));
  while (due.length) {
    await rest(pause);
    const some = due.splice(0, atOnce);
    const r = await fetch("/kept-pages?" + new URLSearchParams(some.map((p) => ["path", p.path])), { headers: { Accept: "application/json" }, redirect: "manual" });
    if (!r.ok) return false;
    const { lines, pages } = await r.json(), headers = new Headers(r.headers);
    headers.set("Content-Type", "text/html; charset=utf-8");
    for (const p of some) {
      let at = -1;
      const html = pages[p.path] && pages[p.path].map((step) => lines[at += step]).join("\n");
      if (html && !await put(p.path, new Response(html, { headers }), p.mark, list.person)) return false;
    }
  }
  const wanted = new Set(list.pages.map((p) => p.path));
  for (const r of await cache.keys()) { const u = new URL(r.url); if (!wanted.has(u.pathname + u.search)) await cache.delete(r); }
  return true;
}
