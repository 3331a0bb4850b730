// What the phone keeps: records that wait to be sent, the last ones that were
// sent, and a few notes. It is kept in IndexedDB; where the browser refuses that,
// what waits is kept in localStorage, and where it refuses that too, in the page
// for as long as it is open. Nothing secret is ever put here.

let opened, silentTill = 0;

// A database that does not answer counts as refused for a while, or pages would wait for ever.
const patience = 6000, silence = 60000;

function open() {
  if (!opened && Date.now() < silentTill) return Promise.reject(new Error("no answer"));
  // A page that is left while it makes the database must go, not sleep: the next would wait for it. Who holds a lock goes.
  if (!opened) opened = navigator.locks.request("stowkeeper-open", () => new Promise((yes, no) => {
    const r = indexedDB.open("stowkeeper", 1);
    setTimeout(() => {
      if (r.readyState === "done") return;
      opened = null;
      silentTill = Date.now() + silence;
      no(new Error("no answer"));
    }, patience);
    r.onupgradeneeded = () => {
      r.result.createObjectStore("waiting", { keyPath: "key" });
      r.result.createObjectStore("sent", { keyPath: "key" });
      r.result.createObjectStore("notes");
    };
    r.onsuccess = () => {
      r.result.onversionchange = () => { r.result.close(); opened = null; };
      r.result.onclose = () => { opened = null; };
      if (silentTill) opened = Promise.resolve(r.result); // late, and welcome
      silentTill = 0;
      yes(r.result);
    };
    r.onerror = () => { opened = null; no(r.error); };
    r.onblocked = () => { opened = null; no(new Error("blocked")); };
  }));
  return opened;
}

// within runs one transaction, and is done when it is on the phone's disk.
async function within(stores, mode, work) {
  const db = await open();
  return new Promise((yes, no) => {
    const t = db.transaction(stores, mode, { durability: "strict" });
    let out;
    t.oncomplete = () => yes(out && out.result);
    t.onerror = t.onabort = () => no(t.error);
    out = work(...stores.map((s) => t.objectStore(s)));
  });
}

const oldest = (a, b) => a.madeAt - b.madeAt || (a.key < b.key ? -1 : 1);

const besides = "waiting "; // before the names of what waits in localStorage
const here = new Map(), sentHere = new Map(); // what only this page knows

function beside() {
  try { return Object.keys(localStorage).filter((k) => k.startsWith(besides)).map((k) => JSON.parse(localStorage.getItem(k))); } catch { return []; } // a worker has none
}

function dropBeside(key) {
  here.delete(key);
  try { localStorage.removeItem(besides + key); } catch { /* then there is none */ }
}

// canKeep tells whether records outlast this page.
export async function canKeep() {
  if (await within(["waiting"], "readonly", (s) => s.count()).then(() => true, () => false)) return true;
  try { localStorage.setItem("tried", "yes"); localStorage.removeItem("tried"); return true; } catch { return false; }
}

// waiting returns the records that wait, the oldest first.
export async function waiting() {
  const rows = new Map();
  for (const r of [...await within(["waiting"], "readonly", (s) => s.getAll()).catch(() => []), ...beside(), ...here.values()]) rows.set(r.key, r);
  return [...rows.values()].sort(oldest);
}

export async function oneWaiting(key) { return (await waiting()).find((r) => r.key === key); }

// keepWaiting puts a record in, or back with what became of a try to send it. It
// tells whether the record outlasts this page.
export async function keepWaiting(row) {
  const put = () => within(["waiting"], "readwrite", (s) => s.put(row)).then(() => { dropBeside(row.key); return true; });
  const local = () => { localStorage.setItem(besides + row.key, JSON.stringify(row)); here.delete(row.key); return true; };
  const roomier = async () => { // a page can be fetched again, if that is what the database lacks
    await open().catch((e) => { if (e.name !== "QuotaExceededError") throw e; });
    await caches.delete("pages");
    return put();
  };
  for (const way of [put, local, roomier]) try { return await way(); } catch { /* the next */ }
  here.set(row.key, row);
  return false;
}

export async function discard(key) {
  dropBeside(key);
  await within(["waiting"], "readwrite", (s) => s.delete(key)).catch(() => {});
}

const sentKept = 20;

// markSent moves a record from those that wait to those that were sent.
export async function markSent(row, outcome) {
  const done = { ...row, fields: row.fields.filter(([n]) => !/incident|note/.test(n)), sentAt: Date.now(), ...outcome };
  await within(["waiting", "sent"], "readwrite", (w, s) => {
    w.delete(row.key);
    s.put(done);
    const all = s.getAll();
    all.onsuccess = () => all.result.sort((a, b) => b.sentAt - a.sentAt).slice(sentKept).forEach((x) => s.delete(x.key));
  }).catch(() => sentHere.set(row.key, done));
  dropBeside(row.key);
}

export async function sent() {
  const rows = await within(["sent"], "readonly", (s) => s.getAll()).catch(() => []);
  return rows.concat([...sentHere.values()]).sort((a, b) => b.sentAt - a.sentAt);
}

export async function oneSent(key) { return (await sent()).find((r) => r.key === key); }

export async function note(name) { return within(["notes"], "readonly", (s) => s.get(name)); }

export async function setNote(name, value) { await within(["notes"], "readwrite", (s) => s.put(value, name)); }
