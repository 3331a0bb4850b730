// What runs on every page. All of it is a help: every page works without.
import "./help.js";
import "./look.js";
import { t } from "./say.js";
import { words } from "./words.js";
import { startStrip } from "./strip.js";
import { element } from "./element.js";
import { startOutbox, warnBeforeSignOut } from "./outbox.js";
import { startDrafts } from "./draft.js";
import { startHere } from "./here.js";
import { startLock } from "./lock.js";
import { canKeep } from "./db.js";

// A slash, or a scanner at a page with no field of its own for it, types into the search.
addEventListener("keydown", (e) => {
  const find = document.getElementById("f-search");
  if (!find || e.key.length > 1 || e.ctrlKey || e.metaKey || e.altKey || document.activeElement !== document.body || document.querySelector("[data-scan]")) return;
  find.select();
  if (e.key === "/") e.preventDefault();
});

// lacking says why this phone cannot keep records, or nothing where it can.
function lacking() {
  if (!window.isSecureContext) return words.cannot;
  if (!("serviceWorker" in navigator) || !navigator.locks || !window.BroadcastChannel) return words.cannotOld;
  return "";
}

// sayCannot tells it where somebody might rely on it.
function sayCannot(why) {
  const by = document.querySelector(".verdict, form[data-keep], .here");
  if (!by) return;
  const p = element("p", why, { className: "asof cannot" });
  if (by.matches("form")) by.before(p);
  else if (by.matches(".here")) by.querySelector("h1").after(p);
  else by.after(p);
}

async function start() {
  startLock();
  await startDrafts();
  const why = lacking();
  if (why) { sayCannot(why); return; }
  if (!await canKeep()) sayCannot(words.cannotStore);
  if (document.body.dataset.said !== undefined) document.querySelectorAll(".me, .own").forEach((e) => { e.textContent = t("said to be {1}", document.body.dataset.person); });
  startStrip();
  startHere();
  startOutbox();
  warnBeforeSignOut();
  if (document.readyState !== "complete") await new Promise((r) => window.addEventListener("load", r));
  const worker = await navigator.serviceWorker.register("/worker.js");
  await navigator.serviceWorker.ready;
  const { person, role, kept } = document.body.dataset;
  if (person && !kept) (worker.active || navigator.serviceWorker.controller).postMessage({ keep: person, role });
}

start();
