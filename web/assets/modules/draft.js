// A form that takes a while is kept as it stands, so that a call in the middle
// of it costs nothing. It is kept for the person, the bag and what they saw.
import { words } from "./words.js";
import { element, button } from "./strip.js";

const longest = 7 * 24 * 3600 * 1000;
const mine = "draft " + document.body.dataset.person + " ";

function draftName(form) { return mine + new URL(form.action).pathname; }

function positionOf(form) { const p = form.elements.namedItem("position"); return p ? p.value : ""; }

function fields(form) {
  return [...form.elements].filter((e) => e.name && !["hidden", "password", "submit", "button"].includes(e.type) && e.dataset.live === undefined && e.tagName !== "FIELDSET");
}

function valueOf(e) { return e.type === "checkbox" || e.type === "radio" ? (e.checked ? e.value : null) : e.value; }

function save(form) {
  try {
    const values = fields(form).map((e) => [e.name, e.type === "radio" ? e.value : "", valueOf(e)]);
    localStorage.setItem(draftName(form), JSON.stringify({ at: Date.now(), position: positionOf(form), values }));
  } catch { /* no room: the form still works */ }
}

export function forgetDraft(form) { try { localStorage.removeItem(draftName(form)); } catch { /* then there is none */ } }

function told(e) { e.dispatchEvent(new Event("input", { bubbles: true })); e.dispatchEvent(new Event("change", { bubbles: true })); }

// fillIn brings the form to what was kept, and tells whether that was a change.
function fillIn(form, values) {
  let differs = false;
  const kept = new Map(values.map(([name, which, value]) => [name + "\n" + which, value]));
  for (const e of fields(form)) {
    const id = e.name + "\n" + (e.type === "radio" ? e.value : "");
    if (!kept.has(id) || kept.get(id) === valueOf(e)) continue;
    differs = true;
    if (e.type === "checkbox" || e.type === "radio") e.checked = kept.get(id) !== null;
    else e.value = kept.get(id);
    told(e);
    for (let d = e.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
  }
  return differs;
}

function tell(form, text, ...more) {
  const p = element("p", text + " ", { className: "restored" });
  p.setAttribute("role", "status");
  p.append(...more);
  form.before(p);
  return p;
}

function restore(form) {
  let d;
  try { d = JSON.parse(localStorage.getItem(draftName(form))); } catch { return; }
  if (!d || Date.now() - d.at > longest) { forgetDraft(form); return; }
  if (d.position !== positionOf(form)) {
    forgetDraft(form);
    tell(form, words.overtaken(d.at));
    return;
  }
  if (!fillIn(form, d.values)) return;
  const note = tell(form, words.restored(d.at), button(words.startAgain, () => {
    form.reset();
    fields(form).forEach(told);
    forgetDraft(form);
    note.remove();
  }));
}

// startDrafts restores the forms marked data-draft and keeps them from now on.
export function startDrafts() {
  document.querySelectorAll("form[data-draft]").forEach((form) => {
    restore(form);
    const soon = () => setTimeout(() => { if (!form.dataset.sent) save(form); }, 0);
    for (const what of ["input", "change", "click"]) form.addEventListener(what, (e) => { if (e.isTrusted) soon(); });
  });
}
