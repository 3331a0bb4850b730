// Forms marked data-keep are put on the phone first, then sent. Where the
// service answers, the page goes on as it would have without this; where it
// does not, the record waits here.
import { words } from "./words.js";
import { drain, changed, onChange } from "./send.js";
import { waiting, oneWaiting, oneSent, keepWaiting, discard } from "./db.js";
import { saveDraft, forgetDraft, entered } from "./draft.js";
import { say, freshen, keptAt } from "./strip.js";
import { element } from "./element.js";

const patienceForAnswer = 8000; // of a person with a thumb, in milliseconds

const person = document.body.dataset.person;

// secret tells whether a field must not be put on the phone: PINs, and who
// would have typed them.
function secret(input) { return input.type === "password" || input.dataset.live !== undefined; }

function bagOf(form) { return decodeURIComponent(new URL(form.action).pathname.split("/")[2]); }

// freshKey gives a form a key of its own when it is opened: a page that was
// kept has been opened before, with the key that it came with. Only what was
// refused is sent again under its key.
async function freshKey(form) {
  if (form.keyed) return; // a draft brought its own
  const key = form.elements.namedItem("key");
  const row = key && await oneWaiting(key.value).catch(() => null);
  if (key && (!row || row.state !== "refused")) key.value = crypto.randomUUID();
}

// reopen is for a form that the back button brought up again: one that was sent
// is fetched anew.
async function reopen(form) {
  const key = form.elements.namedItem("key");
  if (key && await oneSent(key.value).catch(() => null)) location.reload();
  else freshKey(form);
}

function fieldsOf(form, submitter) {
  const kept = [], live = [], data = new FormData(form, submitter);
  for (const [name, value] of data) {
    if (name === "key" || typeof value !== "string") continue;
    const of = form.elements.namedItem(name);
    (of instanceof Element && secret(of) ? live : kept).push([name, value]);
  }
  return { kept, live };
}

// submitPlain lets the browser send the form, as without a script.
function submitPlain(form, submitter, row) {
  const extra = row ? [["recorded_at", new Date(row.madeAt).toISOString()]] : [];
  if (submitter && submitter.name) extra.push([submitter.name, submitter.value]);
  for (const [name, value] of extra) {
    const i = document.createElement("input");
    Object.assign(i, { type: "hidden", name, value });
    form.append(i);
  }
  HTMLFormElement.prototype.submit.call(form);
}

// mend finds what the service would send back, since without signal nobody is
// there to ask again. It says so at the field.
function mend(form) {
  form.querySelectorAll(".lotrow").forEach((row) => {
    const n = row.querySelector("input[type=number][name$='.counted']"), was = row.querySelector("input[name$='.expected']"), why = row.querySelector("select");
    if (n && was && why && why.name.endsWith(".reason")) complain(why, n.value !== was.value && !why.value ? words.why : "", row);
  });
  const used = [...form.querySelectorAll("input[name^='use.'][name$='.qty']")];
  if (used.length) complain(used[0], used.some((i) => Number(i.value) > 0) ? "" : words.needOne);
  return form.reportValidity();
}

function complain(field, text, row) {
  field.setCustomValidity(text);
  const box = text && row && row.querySelector("details");
  if (box) box.open = true;
  const clear = () => field.setCustomValidity("");
  if (text) for (const what of ["input", "click"]) field.form.addEventListener(what, clear, { once: true });
}

// followUp goes where a record leads that was sent or refused. It tells whether
// that is known.
async function followUp(form, submitter, row) {
  const sent = await oneSent(row.key), left = sent ? null : await oneWaiting(row.key);
  if (sent) {
    forgetDraft(form);
    location.assign(sent.location);
  } else if (left && left.state === "refused") {
    if (saveDraft(form)) await discard(row.key); // else the outbox is what keeps it
    changed();
    submitPlain(form, submitter, row);
  } else return false;
  return true;
}

// sayNotRecorded is for a record that could neither be sent nor kept: the page
// holds it and goes on trying, and says what to write down.
function sayNotRecorded(form, row, goOn) {
  const list = element("dl"), box = element("section", "", { className: "notrecorded" });
  for (const [name, value] of [[words.bag, row.bag + ", " + row.what], ...entered(form)]) list.append(element("dt", name), element("dd", value));
  box.setAttribute("role", "alert");
  box.append(element("h1", words.notRecorded), element("p", words.keepOpen), element("p", words.writeDown), list);
  const main = document.getElementById("main");
  for (const e of main.children) e.hidden = true;
  main.prepend(box);
  scrollTo(0, 0);
  const stay = (e) => e.preventDefault();
  addEventListener("beforeunload", stay);
  onChange(async () => {
    if (await oneWaiting(row.key).then((r) => r && r.state !== "refused")) return;
    removeEventListener("beforeunload", stay);
    goOn();
  });
}

async function keepAndSend(form, submitter) {
  const { kept, live } = fieldsOf(form, submitter);
  const key = form.elements.namedItem("key"), old = await oneWaiting(key.value);
  if (old && old.state !== "refused") key.value = crypto.randomUUID(); // that one waits: this is another
  const row = { key: key.value, person, bag: bagOf(form), path: new URL(form.action).pathname,
    what: form.dataset.keep, fields: kept, madeAt: Date.now(), state: "waiting" };
  if (document.body.dataset.said !== undefined) row.said = true;
  for (const e of form.querySelectorAll("select[name^='found'][name$='.item']")) if (e.value) (row.names = row.names || {})[e.value] = e.selectedOptions[0].textContent;
  const lasts = await keepWaiting(row);
  changed();
  navigator.storage.persist && navigator.storage.persist();
  const done = drain({ force: true, live: { [row.key]: live } });
  done.then((bags) => bags.length && navigator.serviceWorker.controller && navigator.serviceWorker.controller.postMessage({ keep: person, now: true }));
  await Promise.race([done, new Promise((r) => setTimeout(r, patienceForAnswer))]);
  const goOn = () => followUp(form, submitter, row);
  if (await goOn()) return;
  if (!lasts) { sayNotRecorded(form, row, goOn); return; }
  forgetDraft(form);
  askForSync();
  if (navigator.serviceWorker.controller) { location.assign("/b/" + encodeURIComponent(row.bag) + "#kept"); return; }
  say(words.keptNow(row)); // the page cannot be left without signal
  form.reset();
  again(form);
  form.keyed = false;
  await freshKey(form);
}

// again lets a form be sent once more.
function again(form) {
  delete form.dataset.sent;
  form.querySelectorAll(".busy").forEach((b) => { b.classList.remove("busy"); b.removeAttribute("aria-busy"); });
}

// renew has the worker fetch what changed when records were sent: a form that
// is opened without signal later should know of them. So should this page, if
// it is of one of their bags: what is sent from it would meet a changed bag.
function renew(bags) {
  const worker = navigator.serviceWorker.controller;
  if (bags.length && worker && person) worker.postMessage({ keep: person, now: true });
  const [, kind, code] = location.pathname.split("/");
  if (kind !== "b" || !code || !bags.includes(decodeURIComponent(code))) return;
  freshen();
}

// askForSync has the browser send when there is signal, with all pages closed,
// where it can.
async function askForSync() {
  try { await (await navigator.serviceWorker.ready).sync.register("send"); } catch { /* a bonus of some browsers */ }
}

function onSubmit(e) {
  const form = e.target, by = e.submitter;
  if (e.defaultPrevented || form.dataset.keep === undefined || (by && by.name === "more")) return;
  e.preventDefault();
  if ((keptAt || !navigator.onLine) && !mend(form)) { again(form); return; }
  keepAndSend(form, by).catch(() => submitPlain(form, by));
}

// startOutbox takes over the forms of this page and sends what waits.
export function startOutbox() {
  document.querySelectorAll("form[data-keep]").forEach((f) => { freshKey(f); });
  document.addEventListener("submit", onSubmit);
  window.addEventListener("pageshow", (e) => { if (e.persisted) document.querySelectorAll("form[data-keep]").forEach(reopen); });
  // A page that was kept does not know who is signed in by now: the service
  // takes from each what is theirs.
  const go = (force) => () => { if (person) drain({ force, only: keptAt ? "" : person }).then(renew); };
  window.addEventListener("online", go(true));
  document.addEventListener("visibilitychange", () => { if (!document.hidden) go(true)(); });
  setInterval(go(false), 30000);
  go(true)();
}

// warnBeforeSignOut tells who signs out that their records stay here.
export function warnBeforeSignOut() {
  const form = document.querySelector("form[action='/sign-out']");
  if (form) form.addEventListener("submit", async (e) => {
    if (form.dataset.sure) return;
    e.preventDefault();
    const mine = (await waiting().catch(() => [])).filter((r) => r.person === person);
    again(form);
    if (mine.length && !confirm(words.signOut(mine.length))) return;
    form.dataset.sure = "yes";
    form.requestSubmit();
  });
}
