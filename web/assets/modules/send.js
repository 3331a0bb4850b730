// Sends what waits: once, in order for each bag and person, by one sender at a
// time. The service knows each record by its key, so that one whose answer was
// lost is not counted again.
import { waiting, oneWaiting, keepWaiting, markSent, note, setNote } from "./db.js";

const channel = self.BroadcastChannel && new BroadcastChannel("stowkeeper");

// changed tells every open page that something waits, or no longer does.
export function changed() {
  channel.postMessage("changed");
  heard.forEach((f) => f());
  waiting().then(showCount, () => {});
}

// showCount puts the number of records that are not sent on the app's icon, where
// the phone can.
export function showCount(rows) {
  if (navigator.setAppBadge) navigator.setAppBadge(rows.length).catch(() => {}); // 0 takes it away
}

const heard = []; // on this page, which does not hear itself

export function onChange(f) {
  heard.push(f);
  channel.addEventListener("message", f);
}

const patience = 20000; // for an answer, in milliseconds
const longestPause = 5 * 60000;

// post sends one record and tells what became of it.
async function post(row, live) {
  const body = new URLSearchParams(row.fields.concat(live || []));
  body.set("key", row.key);
  body.set("recorded_at", new Date(row.madeAt).toISOString());
  body.set("recorded_by", row.person);
  if (row.said) body.set("said", "yes");
  const stop = new AbortController(), timer = setTimeout(() => stop.abort(), patience);
  let r, said;
  try {
    r = await fetch(row.path, {
      method: "POST", body, redirect: "manual", credentials: "same-origin", cache: "no-store", signal: stop.signal,
      headers: { Accept: "application/json", "Phone-Clock": new Date().toISOString() },
    });
    if (r.status < 500) said = await r.json(); // what is not ours, as a hotel's sign-in page, is no answer
  } catch { return { became: "unheard" }; } finally { clearTimeout(timer); }
  if (r.status >= 500 || r.status === 429 || r.status === 408) return { became: "later", after: retryAfter(r) };
  if (r.ok && said.location) return { became: "stored", outcome: { location: said.location, status: said.status, because: said.because || "" } };
  if (r.status === 401) return { became: "signedOut" };
  if (said.person && said.person !== row.person) return { became: "otherPerson" };
  if (r.status >= 400 && "refused" in said) return { became: "refused", message: said.refused, fixes: said.fixes || [] };
  return { became: "unheard" };
}

function retryAfter(r) {
  const told = r.headers.get("Retry-After"), sec = Number(told);
  const ms = told && (isNaN(sec) ? Date.parse(told) - Date.now() : sec * 1000);
  return ms > 0 ? Math.min(ms, longestPause) : 0;
}

// tellLeft tells the service that somebody signed out here without signal. It
// tells whether that is known: until then nothing is asked in their name.
export async function tellLeft() {
  if (!await note("left").catch(() => false)) return true;
  const stop = new AbortController(), timer = setTimeout(() => stop.abort(), 2000);
  const r = await fetch("/sign-out", { method: "POST", redirect: "manual", signal: stop.signal }).catch(() => null);
  clearTimeout(timer);
  if (!r || r.status >= 500) return false;
  await setNote("left", false);
  return true;
}

// drain sends all that may be sent now. force passes over our own pauses, but
// not over those that the service asked for. only names the person whose
// records to send; anybody's where it is left out. live holds further fields of
// a record that are sent and never kept, by its key. It returns the bags
// of those that were sent.
export function drain({ force, only, live } = {}) {
  return navigator.locks.request("stowkeeper-send", async () => {
    const held = new Set(); // bags and persons that must wait, for the order
    const done = [];
    if (!await tellLeft()) return done;
    for (const listed of await waiting()) {
      const row = await oneWaiting(listed.key); // another tab may have had it
      if (!row || row.state === "refused" || (only && row.person !== only && !row.said)) continue;
      const turn = row.person + "\n" + row.bag;
      const notYet = row.told > Date.now() || (!force && row.pausedTill > Date.now());
      if (held.has(turn) || held.has(row.person) || notYet) { held.add(turn); continue; }
      const r = await post(row, live && live[row.key]);
      if (r.became === "stored") { await markSent(row, r.outcome); done.push(row.bag); changed(); continue; }
      row.tries = (row.tries || 0) + 1;
      row.trouble = r.became;
      row.pausedTill = r.became === "later" ? Date.now() + Math.min(longestPause, 1000 * 2 ** row.tries) : 0;
      row.told = r.after ? Date.now() + r.after : 0;
      if (r.became === "refused") Object.assign(row, { state: "refused", message: r.message, fixes: r.fixes });
      await keepWaiting(row);
      changed();
      if (r.became === "unheard" || r.became === "later") break;
      if (r.became === "signedOut" || r.became === "otherPerson") held.add(row.person);
    }
    return done;
  });
}
