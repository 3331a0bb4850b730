// What the phone keeps, in IndexedDB: records that wait to be sent, the last
// ones that were sent, and a few notes. Nothing secret is ever put here.

let opened;

function open() {
  if (!opened) opened = new Promise((yes, no) => {
    const r = indexedDB.open("stowkeeper", 1);
    r.onupgradeneeded = () => {
      r.result.createObjectStore("waiting", { keyPath: "key" });
      r.result.createObjectStore("sent", { keyPath: "key" });
      r.result.createObjectStore("notes");
    };
    r.onsuccess = () => {
      r.result.onversionchange = () => { r.result.close(); opened = null; };
      r.result.onclose = () => { opened = null; };
      yes(r.result);
    };
    r.onerror = () => { opened = null; no(r.error); };
    r.onblocked = () => { opened = null; no(new Error("blocked")); };
  });
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

// waiting returns the records that wait, the oldest first.
export async function waiting() { return (await within(["waiting"], "readonly", (s) => s.getAll())).sort(oldest); }

export async function oneWaiting(key) { return within(["waiting"], "readonly", (s) => s.get(key)); }

// keepWaiting puts a record in, or back with what became of a try to send it.
export async function keepWaiting(row) { await within(["waiting"], "readwrite", (s) => s.put(row)); }

export async function discard(key) { await within(["waiting"], "readwrite", (s) => s.delete(key)); }

const sentKept = 20;

// markSent moves a record from those that wait to those that were sent.
export async function markSent(row, outcome) {
  await within(["waiting", "sent"], "readwrite", (w, s) => {
    w.delete(row.key);
    s.put({ key: row.key, what: row.what, bag: row.bag, person: row.person, madeAt: row.madeAt, sentAt: Date.now(), ...outcome });
    const all = s.getAll();
    all.onsuccess = () => all.result.sort((a, b) => b.sentAt - a.sentAt).slice(sentKept).forEach((x) => s.delete(x.key));
  });
}

export async function sent() { return (await within(["sent"], "readonly", (s) => s.getAll())).sort((a, b) => b.sentAt - a.sentAt); }

export async function oneSent(key) { return within(["sent"], "readonly", (s) => s.get(key)); }

export async function note(name) { return within(["notes"], "readonly", (s) => s.get(name)); }

export async function setNote(name, value) { await within(["notes"], "readwrite", (s) => s.put(value, name)); }
