// A form that asks for more than one thing is kept as it stands, so that a call
// in the middle of it, a crash or a refusal costs nothing. It is kept for the
// person and what the form is about, until the service has confirmed it or it
// stands in the outbox. Each value is kept with the one that it replaced: where
// that is another one by now, the page's stays and is asked again.
import { words } from "./words.js";
import { waiting, sent } from "./db.js";
import { element, button } from "./element.js";

const longest = 7 * 24 * 3600 * 1000;
const person = document.body.dataset.person;
const answered = document.body.dataset.sent; // the key that this page is the answer to
const about = ["place", "station", "vehicle", "batch", "from", "out", "do", "delivery", "line"];

function named(form, name) { const e = form.elements.namedItem(name); return e instanceof Element ? e : null; }

function fields(form) {
  return [...form.elements].filter((e) => e.name && !["hidden", "password", "file", "submit", "button"].includes(e.type) && e.dataset.live === undefined && e.tagName !== "FIELDSET");
}

const ticks = (e) => e.type === "checkbox" || e.type === "radio";
const idOf = (e) => e.name + "\n" + (e.type === "radio" ? e.value : "");
const rowOf = (e) => e.closest(".row") || e;

function valueOf(e) { return ticks(e) ? (e.checked ? e.value : null) : e.value; }

// offered is what the page came with.
function offered(e) {
  if (ticks(e)) return e.defaultChecked ? e.value : null;
  if (e.tagName !== "SELECT") return e.defaultValue;
  return ([...e.options].find((o) => o.defaultSelected) || e.options[0] || { value: "" }).value;
}

// stood is what a value rests on: how many there were, where the page says so.
const stood = (e) => (e.type === "number" && e.closest("[data-have]") ? e.closest("[data-have]").dataset.have : offered(e));

function called(e) {
  const item = e.closest(".row") && e.closest(".row").querySelector(".item"), label = item || (e.labels && e.labels[0]);
  return label ? label.firstChild.textContent.trim() : e.name;
}

const drafts = () => Object.keys(localStorage).filter((k) => k.startsWith("draft "));
const read = (name) => { try { return JSON.parse(localStorage.getItem(name)); } catch { return null; } };
const drop = (name) => { try { localStorage.removeItem(name); } catch { /* then there is none */ } };

// saveDraft keeps a form as it stands. It tells whether it is kept.
export function saveDraft(form) {
  if (!form.draft) return false;
  const all = fields(form), was = (e) => form.was.get(idOf(e)) || [offered(e), stood(e)];
  const touched = new Set(all.filter((e) => valueOf(e) !== was(e)[0]).map(rowOf));
  const values = all.filter((e) => touched.has(rowOf(e))).map((e) => [e.name, e.type === "radio" ? e.value : "", valueOf(e), was(e)[0], called(e), was(e)[1]]);
  const carried = [...form.querySelectorAll("[data-carried]")].map((e) => [e.name, "", e.value, "", e.dataset.carried, ""]);
  if (!values.length && !carried.length) { drop(form.draft); return true; }
  try {
    localStorage.setItem(form.draft, JSON.stringify({ at: Date.now(), key: named(form, "key").value, values: values.concat(carried) }));
    return true;
  } catch { return false; } // no room: the form still works
}

// entered lists what somebody would write down of a form: what differs from the
// page, and seals.
export function entered(form) {
  const out = fields(form).filter((e) => e.type !== "checkbox" && valueOf(e) && valueOf(e) !== offered(e)).map((e) =>
    [called(e), e.tagName === "SELECT" ? e.selectedOptions[0].textContent : e.value]);
  const seal = named(form, "seal_seen");
  if (seal && seal.type === "hidden") out.push([words.seal, seal.value]);
  return out;
}

export function forgetDraft(form) { if (form.draft) drop(form.draft); }

function told(e) { for (const what of ["input", "change"]) e.dispatchEvent(new Event(what, { bubbles: true })); }

function put(e, value) {
  if (ticks(e)) e.checked = value !== null;
  else e.value = value;
  for (let d = e.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
  told(e);
}

// stale tells whether a row of the form rests on something else by now.
function stale(row, kept) {
  const all = row.matches(".row") ? [...row.querySelectorAll("input, select, textarea")] : [row];
  return all.some((e) => e.name && e.type !== "hidden" && e.type !== "password" && e.dataset.live === undefined &&
    (!kept.has(idOf(e)) || kept.get(idOf(e))[5] !== stood(e)));
}

// fillIn brings the form to what was kept. It returns what it could not: rows
// that changed since, and what the page no longer asks for.
function fillIn(form, values) {
  const kept = new Map(values.map((v) => [v[0] + "\n" + v[1], v])), changed = new Map(), here = new Set();
  let differs = false;
  for (const e of fields(form)) {
    const v = kept.get(idOf(e)), row = rowOf(e);
    if (!v) continue;
    here.add(idOf(e));
    if (v[2] === valueOf(e)) continue;
    if (!changed.has(row)) changed.set(row, stale(row, kept) ? [] : null);
    if (changed.get(row)) changed.get(row).push(v);
    else { put(e, v[2]); differs = true; }
  }
  for (const e of fields(form)) { // a count that is put back ticks its line
    const v = kept.get(idOf(e));
    if (v && ticks(e) && !changed.get(rowOf(e)) && v[2] !== valueOf(e)) put(e, v[2]);
  }
  const gone = values.filter((v) => !here.has(v[0] + "\n" + v[1]) && v[2] !== v[3]);
  return { differs, changed: [...changed].filter(([, vs]) => vs), gone };
}

function mark(row, values) {
  const had = values.filter((v) => v[2] && v[2] !== "yes").map((v) => v[2]).join(", ");
  const p = element("p", had ? words.changedSince(had) : words.changed, { className: "since" });
  if (row.matches(".row")) row.querySelector(".item").after(p);
  else row.after(p);
}

// carry has the form send what it does not show: rows that were asked for. The
// stock of a bag that is gone is told, and no more than that.
function carry(form, gone) {
  const rows = form.querySelector("button[name=more]") ? gone.filter((v) => v[2] && !/^(row\.|use\.[^@]*@(@|\.))/.test(v[0])) : [];
  for (const [name, , value, , label] of rows) {
    const e = element("input", "", { type: "hidden", name, value });
    e.dataset.carried = label;
    form.append(e);
  }
  return rows;
}

function tell(form, ...parts) {
  const p = element("p", "", { className: "restored" });
  p.setAttribute("role", "status");
  p.append(...parts.flatMap((x) => [x, " "]));
  form.before(p);
  return p;
}

const names = (values) => [...new Set(values.map((v) => v[4]))].join(", ");

function restore(form) {
  const d = read(form.draft);
  if (!d || Date.now() - d.at > longest) { drop(form.draft); return; }
  const { differs, changed, gone } = fillIn(form, d.values), key = named(form, "key"), own = key.value;
  key.value = d.key;
  form.keyed = true;
  if (!differs && !changed.length && !gone.length) return;
  const carried = carry(form, gone), lost = gone.filter((v) => !carried.includes(v));
  changed.forEach(([row, values]) => mark(row, values));
  const note = tell(form, words.restored(d.at));
  if (changed.length) note.append(words.again(names(changed.map(([, vs]) => vs[0]))) + " ");
  if (lost.length) note.append(words.gone(names(lost)) + " ");
  if (carried.length) note.append(words.also(carried.map((v) => v[4] + " " + v[2]).join(", ")) + " ");
  note.append(button(words.startAgain, () => {
    form.reset();
    form.querySelectorAll("[data-carried]").forEach((e) => e.remove());
    document.querySelectorAll(".since").forEach((e) => e.remove());
    fields(form).forEach(told);
    drop(form.draft);
    key.value = crypto.randomUUID ? crypto.randomUUID() : own; // another record, not that one again
    form.keyed = false;
    note.remove();
  }));
}

// goOn takes up a draft on the page that answers it: what was sent stands on
// the page, and the draft still knows what it replaced.
function goOn(form) {
  const d = read(form.draft);
  if (!d || d.key !== answered) return false;
  form.keyed = true;
  for (const [name, which, , was, , on] of d.values) form.was.set(name + "\n" + which, [was, on]);
  saveDraft(form);
  return true;
}

// dropConfirmed forgets what was confirmed or waits in the outbox by now, on
// whatever page.
async function dropConfirmed() {
  const last = (document.cookie.match(/(?:^|; )stowkeeper_recorded=([^;]*)/) || [])[1];
  const done = last ? [decodeURIComponent(last)] : [];
  const rows = await Promise.race([Promise.all([waiting(), sent()]), new Promise((r) => setTimeout(r, 1000, []))]).catch(() => []);
  done.push(...rows.flat().map((r) => r.key));
  for (const name of drafts()) { const d = read(name); if (d && done.includes(d.key)) drop(name); }
  if (last) document.cookie = "stowkeeper_recorded=; path=/; max-age=0";
}

// startDrafts restores what was kept of the forms of this page and keeps them
// from now on.
export async function startDrafts() {
  try { if (drafts().length) await dropConfirmed(); } catch { /* the browser keeps nothing */ }
  for (const form of document.querySelectorAll("form[method=post]")) {
    if (!person || !named(form, "key") || new Set(fields(form).map((e) => e.name)).size < 2) continue;
    const url = new URL(form.action);
    form.draft = ["draft", person, url.pathname + url.search, ...about.map((n) => named(form, n)).filter((e) => e && e.type === "hidden").map((e) => e.value)].join(" ");
    form.was = new Map(); // what values replaced, and rest on, where the page does not say
    if (!answered || named(form, "key").value !== answered) restore(form);
    else if (!goOn(form) && read(form.draft)) form.draft = ""; // of another record, which stays
    const soon = () => setTimeout(() => { if (!form.dataset.sent) saveDraft(form); }, 0);
    for (const what of ["input", "change", "click"]) form.addEventListener(what, (e) => { if (e.isTrusted) soon(); });
  }
}
