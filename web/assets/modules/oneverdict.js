// Puts the verdict that this phone knows onto pages: a bag's own, the board, and
// a vehicle's.
import { t } from "./say.js";
import { verdictOf, touches, stateWords, ofModule } from "./verdict.js";
import { element } from "./element.js";
import { sent } from "./db.js";
import { sayChecked, showNext, sayWrong, isLast } from "./shift.js";

const worse = { ready: 0, ready_with_gaps: 1, not_ready: 2, out_of_service: 2 };
const mayNot = (state) => worse[state] === 2;

// keptPage is the page of a bag as it is kept, or none.
async function keptPage(code) {
  const kept = await caches.match("/b/" + encodeURIComponent(code)).catch(() => null);
  return kept && Object.assign(new DOMParser().parseFromString(await kept.text(), "text/html"), { at: kept.headers.get("X-Kept-At") });
}

// known is the verdict about a bag from its kept page, where records here are
// about it or a module in it; without such a page only that it was taken off is
// known.
async function known(code, rows) {
  const doc = await keptPage(code), about = rows.filter((r) => touches(r, code) && !(doc && r.sentAt < doc.at));
  const verdict = doc && doc.querySelector(".verdict[data-rests]"), more = doc ? await ofModules(doc, rows) : [];
  if (!about.length && !more.length) return null;
  if (verdict) return verdictOf(verdict.dataset.rests, code, about, more);
  const off = about.filter((r) => r.bag === code && r.path.endsWith("/out-of-service")).pop();
  return off ? { state: "out_of_service", headline: t("Out of service: {1}", (off.fields.find(([n]) => n === "reason") || [])[1]) } : null;
}

function list(className, title, texts) {
  const s = element("section", "", { className }), ul = element("ul");
  ul.append(...texts.map((x) => element("li", x)));
  s.append(element("h2", title), ul);
  return s;
}

// showLines brings the lines that records changed up to date.
function showLines(was, v) {
  const cells = document.querySelectorAll(".verdict .strip i"), row = (i) => document.querySelector(`.contents li[data-line="${i}"]`);
  const small = document.querySelectorAll(".contents details summary .strip i");
  const order = v.pouches.flatMap((_, p) => v.lines.map((l, i) => i).filter((i) => v.lines[i][3] === p));
  order.forEach((i, at) => {
    const [, par, minimum] = v.lines[i], n = v.got[i];
    if (n === was.got[i] || !row(i)) return;
    const kind = (!n ? "c-none" : n < par ? "c-short" : "c-enough") + (n < minimum ? " foot" : "");
    for (const c of [cells[at], small[at]]) if (c) c.className = kind;
    row(i).classList.toggle("short", n < par);
    row(i).querySelector(".have").textContent = t("needs {1}, has {2}", par, n);
    row(i).querySelectorAll(".of").forEach((e) => e.remove());
    const pouch = row(i).closest(".pouch"), lines = pouch.querySelectorAll("ul.lines > li"), gaps = pouch.querySelectorAll("li.short").length;
    pouch.querySelector(".sums").textContent = gaps ? t("{1} of {2} with gaps", gaps, lines.length) : t("all {1} enough", lines.length);
    if (gaps) for (let d = row(i).closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
    document.querySelector(".verdict .strip").removeAttribute("aria-label"); // the lines say it
  });
}

// ofModules are findings about the modules that stand on the page of a bag, and
// says them in their lines.
async function ofModules(doc, rows) {
  const out = [];
  for (const a of doc.querySelectorAll(".contents > ul.lines > li > .item > a")) {
    const v = await known(a.textContent, rows), name = a.nextSibling.textContent.trim();
    if (!v) continue;
    out.push(ofModule(a.textContent, name, v));
    const li = a.closest("li");
    li.classList.toggle("short", mayNot(v.state));
    li.querySelector(".have").textContent = stateWords[v.state];
    li.querySelector(".of").textContent = v.headline;
  }
  return out;
}

// showBag puts the verdict onto the page of a bag. It says which seal is on it.
async function showBag(code, rows) {
  const box = document.querySelector(".verdict[data-rests]"), about = rows.filter((r) => touches(r, code)), more = await ofModules(document, rows);
  if (!box || (!about.length && !more.length && !box.dataset.judged)) return;
  const was = verdictOf(box.dataset.rests, code, []), v = verdictOf(box.dataset.rests, code, about, more);
  box.dataset.judged = "yes";
  box.className = "verdict " + v.state;
  box.querySelector(".state").textContent = stateWords[v.state];
  box.querySelector("h1").textContent = v.headline;
  box.querySelectorAll(".off").forEach((e) => { e.hidden = v.headline !== was.headline; });
  document.querySelectorAll(".stops, .gaps:not(.review)").forEach((e) => e.remove());
  const rest = v.state === "not_ready" ? v.stops.slice(1) : v.stops;
  if (v.gaps.length) box.after(list("gaps", t("{1} {1|gap|gaps}", v.gaps.length), v.gaps));
  if (rest.length) box.after(list("stops", v.state === "not_ready" ? t("Also") : t("Not ready because"), rest));
  showLines(was, v);
  const seen = document.querySelector(".actions form input[name=seal_seen]");
  if (!seen) return;
  seen.form.hidden = !v.seal;
  seen.value = seen.form.querySelector("b").textContent = v.seal;
  const first = !mayNot(v.state) && v.seal && !isLast(code, about);
  seen.form.querySelector("button").classList.toggle("main", !!first);
  document.querySelector(".actions a[href$='/full-check']").classList.toggle("main", mayNot(v.state) || !v.seal);
}

function putOn(e, v) {
  e.className = e.className.replace(/\b(ready|ready_with_gaps|not_ready|out_of_service)\b/, v.state);
  e.querySelector(".state").textContent = stateWords[v.state];
  (e.querySelector(".headline") || e.querySelector("h1")).textContent = v.headline;
  e.querySelectorAll(".strip").forEach((x) => { x.style.visibility = "hidden"; });
}

const stateOf = (e) => Object.keys(worse).find((s) => e.classList.contains(s));

// showBags puts verdicts onto the bags that a page lists, and onto their vehicle.
async function showBags(rows) {
  let changed = false;
  for (const li of document.querySelectorAll("ul.bags > li.bag")) {
    const v = await known(li.querySelector(".code").textContent, rows);
    if (!v || (v.state === stateOf(li) && v.headline === li.querySelector(".headline").firstChild.textContent)) continue;
    putOn(li, v);
    changed = true;
  }
  if (!changed) return;
  for (const e of document.querySelectorAll("h2.vehicle, .verdict")) {
    if (stateOf(e) === "out_of_service") continue;
    const on = [...(e.matches("h2") ? e.parentNode : document).querySelectorAll("li.bag")], stopped = on.filter((x) => mayNot(stateOf(x)));
    if (stopped.length) putOn(e, { state: "not_ready", headline: t("Do not use: {1}", stopped.map((x) => x.querySelector(".code").textContent).join(", ")) });
    else if (on.some((x) => stateOf(x) !== "ready")) putOn(e, { state: "ready_with_gaps", headline: t("OK to go out, with gaps") });
  }
  const tally = document.querySelector(".tally");
  if (!tally) return;
  const bags = [...document.querySelectorAll("li.bag:has(a[href^='/b/'])")].map(stateOf);
  tally.replaceChildren(...["not_ready", "ready_with_gaps", "ready", "out_of_service"].filter((s) => bags.includes(s)).flatMap((s) => {
    const span = element("span");
    span.append(element("span", "", { className: "mark " + s }), " " + bags.filter((x) => x === s).length + " " + stateWords[s]);
    return [span, " "];
  }));
}

// showVerdicts has the page say what this phone knows: what waits, and what was
// sent since the page came or was kept.
const counted = new Map();
export async function showVerdicts(waiting) {
  const kept = document.body.dataset.kept, done = await sent();
  for (const r of waiting) counted.set(r.key, r);
  for (const r of done) if (counted.has(r.key) || (kept && r.fields && r.sentAt > kept)) counted.set(r.key, r);
  for (const key of counted.keys()) if (!waiting.concat(done).some((r) => r.key === key)) counted.delete(key);
  const rows = [...counted.values()].sort((a, b) => a.madeAt - b.madeAt);
  const [, kind, code, form] = location.pathname.split("/");
  if (kind === "b" && code && !form) {
    await showBag(decodeURIComponent(code), rows);
    await showNext(decodeURIComponent(code), rows);
    sayWrong(decodeURIComponent(code), rows);
  } else if (rows.length) {
    await showBags(rows);
    sayChecked(rows);
  }
}
