// The shift's list without signal: which bags of a vehicle were checked, by the
// kept page of the vehicle and by what waits here.
import { t } from "./say.js";
import { at } from "./words.js";
import { element } from "./element.js";

const ofVehicle = "ul.bags > li.bag:has(a[href^='/b/'])";
const codeOf = (li) => li.querySelector(".code").textContent;
const checkOf = (code, rows) => rows.filter((r) => r.bag === code && /\/(seal|full)-check$/.test(r.path)).pop();
const dueNote = (li) => [...li.querySelectorAll(".note")].find((e) => e.textContent === t("check due"));

// isLast tells whether the last thing that this phone did with a bag was a check.
export function isLast(code, rows) { const of = rows.filter((r) => r.bag === code); return of.length > 0 && checkOf(code, rows) === of.at(-1); }

// sayChecked brings the page of a vehicle up to date with what waits here.
export function sayChecked(rows) {
  const all = [...document.querySelectorAll(ofVehicle)], lead = document.querySelector("p.lead");
  if (location.pathname !== "/vehicle" || !lead) return;
  for (const li of all) {
    const check = checkOf(codeOf(li), rows), due = dueNote(li);
    if (li.dataset.due === undefined) li.dataset.due = due ? "yes" : "";
    if (!check) continue;
    li.dataset.due = "";
    if (due) due.remove();
    li.querySelectorAll(".here").forEach((e) => e.remove());
    li.querySelector(".headline").append(" ", element("strong", t("checked {1} by {2}", at(check.madeAt), check.person), { className: "note here" }));
  }
  const done = all.filter((li) => !li.dataset.due).length;
  lead.textContent = done === all.length ? t("{1}: all bags checked", new URLSearchParams(location.search).get("name")) : t("{1} of {2} checked", done, all.length);
}

// showNext leads on from a bag that was just checked. What the service said
// stands, unless that bag was checked here meanwhile.
export async function showNext(code, rows) {
  const vehicle = document.querySelector(".verdict .what a[href^='/vehicle']"), bar = document.querySelector(".actions");
  const said = bar && bar.querySelector("a.main:not([href$='/full-check'])"), to = said && decodeURIComponent(said.pathname.split("/")[2] || "");
  if (!vehicle || !bar || !(isLast(code, rows) || (to && checkOf(to, rows)))) return;
  if (said && !(to && checkOf(to, rows))) return;
  const kept = await caches.match(vehicle.pathname + vehicle.search).catch(() => null);
  if (!kept) return;
  const today = new Date(Number(kept.headers.get("X-Kept-At"))).toDateString() === new Date().toDateString();
  const all = [...new DOMParser().parseFromString(await kept.text(), "text/html").querySelectorAll(ofVehicle)];
  const i = all.findIndex((li) => codeOf(li) === code) + 1;
  const next = [...all.slice(i), ...all.slice(0, i)].find((li) => codeOf(li) !== code && !checkOf(codeOf(li), rows) && !(today && !dueNote(li)));
  const a = said || element("a", "", { className: "act main" });
  a.href = next ? "/b/" + encodeURIComponent(codeOf(next)) : vehicle.href;
  a.textContent = next ? t("Next: {1}", codeOf(next)) : t("{1}: all bags checked", vehicle.textContent);
  bar.querySelectorAll("button.main, .main[href$='/full-check']").forEach((e) => e.classList.remove("main"));
  bar.prepend(a);
}

const fresh = 2 * 3600 * 1000; // how long a phone is at work on a vehicle after a record, in milliseconds

// sayWrong says which bag this is and whose, where the phone was just at work on
// another vehicle: by a scan of its own or the phone's camera.
export function sayWrong(code, rows) {
  const what = document.querySelector(".verdict .what"), on = what && what.querySelector("a[href^='/vehicle']");
  if (!on) return;
  const name = on.textContent, box = document.querySelector(".wrong");
  let last;
  try { last = JSON.parse(localStorage.getItem("at work")); } catch { /* then it is not known */ }
  if (box) box.remove();
  if (rows.some((r) => r.bag === code) || location.search.startsWith("?done=")) {
    try { localStorage.setItem("at work", JSON.stringify({ on: name, at: Date.now() })); } catch { /* nor kept */ }
  } else if (last && last.on !== name && Date.now() - last.at < fresh) {
    const p = element("p", t("Not on {1}: this is {2}, {3}", last.on, code, what.textContent), { className: "done wrong" });
    p.setAttribute("role", "status");
    document.getElementById("main").prepend(p);
  }
}
