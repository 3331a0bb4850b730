// A phone that many share locks when nobody touched it for as long as its station
// says: the session ends, what is not sent stays, and whoever signs in goes on
// where this page was. The service judges it too, by what it last heard.
import { keptAt } from "./strip.js";

const form = document.querySelector("form.lock"), longest = document.body.dataset.lock * 60000;
let last = Date.now(), told = last;

// touched is when somebody last touched this phone, on whichever page.
function touched() {
  try { return Math.max(last, Number(localStorage.getItem("touched"))) || Date.now(); } catch { return last || Date.now(); }
}

// touch notes that somebody is here, and lets the service know now and then.
export function touch() {
  last = Date.now();
  try { localStorage.setItem("touched", last); } catch { /* then this page alone knows */ }
  if (!longest || last - told < longest / 10) return;
  told = last;
  fetch("/still-here", { headers: { Accept: "application/json" }, cache: "no-store" }).then((r) => { if (r.status === 401) lock(); }, () => {});
}

// lock leaves the page, unless a record is in it alone.
function lock() { if (!document.querySelector(".notrecorded")) form.submit(); }

// startLock watches over this page. One that was kept may have lain here for long.
export function startLock() {
  if (!form) return;
  if (keptAt) last = 0;
  const over = () => Date.now() - touched() > longest && (lock(), true), here = () => over() || touch();
  here();
  for (const what of ["pointerdown", "keydown", "input", "scroll"]) addEventListener(what, here, { capture: true, passive: true });
  for (const what of ["visibilitychange", "pageshow"]) addEventListener(what, over, true);
  setInterval(over, 5000);
}
