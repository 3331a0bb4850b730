// The strip at the top of every page: how old the page is, and what waits on
// this phone to be sent.
import { words } from "./words.js";
import { waiting } from "./db.js";
import { drain, onChange, showCount } from "./send.js";
import { element, button } from "./element.js";
import { showVerdicts } from "./oneverdict.js";

// keptAt is when this page was kept, in milliseconds, where it is shown without
// signal; 0 for a page that the service sent just now.
export const keptAt = Number(document.body.dataset.kept || 0);

const strip = document.getElementById("strip");
const me = document.body.dataset.person;
let said = "", fresh = false;

function line(...parts) {
  const p = element("p");
  p.append(...parts);
  return p;
}

// say puts a sentence on the strip.
export function say(text) { said = text; show(); }

// sayFresh offers the page as it is now.
function sayFresh() { fresh = true; show(); }

let touched = false; // somebody is at this page already
for (const what of ["input", "pointerdown", "keydown", "submit"]) addEventListener(what, () => { touched = true; }, true);

// freshen brings the page as it is now, or offers it to who is at it.
export function freshen() {
  if (touched) sayFresh();
  else location.reload();
}

// lookForSignal finds out whether the service answers again: a page that was
// kept must not go on saying that it does not.
async function lookForSignal() {
  if (!keptAt || fresh || !navigator.onLine) return;
  const r = await fetch(location.href, { headers: { Accept: "text/html" }, cache: "no-store", redirect: "manual" }).catch(() => null);
  if (r && r.ok) freshen();
}

// lines words what waits: mine, for others, and what was refused. A page of
// nobody's that was kept cannot know who is signed in.
function lines(rows) {
  const open = rows.filter((r) => r.state !== "refused"), anybody = keptAt && !me, out = [];
  const mine = open.filter((r) => anybody || r.person === me), others = open.filter((r) => !mine.includes(r));
  const see = (text) => element("a", text, { href: "/waiting-here" });
  const signIn = () => element("a", words.signIn, { href: "/sign-in?next=" + encodeURIComponent(location.pathname) });
  if (!anybody && mine.some((r) => r.trouble === "signedOut")) out.push(line(see(words.waitsSignIn(mine.length, me)), signIn()));
  else if (mine.length) out.push(line(see(words.waits(mine.length, mine[0].madeAt)), button(words.sendNow, () => drain({ force: true }))));
  for (const who of new Set(others.map((r) => r.person))) {
    const n = others.filter((r) => r.person === who).length;
    out.push(line(see(me ? words.waitsFor(n, who) : words.waitsSignIn(n, who))));
  }
  const refused = rows.length - open.length;
  if (refused) out.push(line(see(words.refused(refused))));
  return out;
}

// here says on a bag's pages what was recorded of it and is not in what they
// say.
function here(rows) {
  const [, kind, code, form] = location.pathname.split("/");
  document.querySelectorAll(".unsent").forEach((e) => e.remove());
  if ((kind !== "b" && kind !== "B") || !code) return;
  const box = element("div", "", { className: "done waiting unsent" });
  const ofBag = rows.filter((r) => r.bag.toUpperCase() === decodeURIComponent(code).toUpperCase());
  for (const r of ofBag) {
    const out = form && r.path.endsWith("/out-of-service"); // else the verdict says so
    box.append(element("p", (out ? words.outOfService : form ? words.before : words.waitsHere)(r), { className: out ? "stopped" : "" }));
  }
  if (ofBag.some((r) => r.path.endsWith("/use")) && location.pathname.endsWith("/full-check")) box.append(element("p", words.countWaits));
  if (box.firstChild) document.getElementById("main").prepend(box);
}

async function showNow() {
  const rows = await waiting().catch(() => []), parts = [];
  if (keptAt && !fresh) parts.push(line(words.kept(keptAt)));
  if (fresh) parts.push(line(words.fresh, button(words.showFresh, () => location.reload())));
  if (said) parts.push(line(said));
  parts.push(...lines(rows));
  strip.replaceChildren(...parts);
  showCount(rows);
  strip.hidden = !parts.length;
  // What was refused mends nothing; that something was used or taken out of service is known all the same.
  here(rows.filter((r) => r.state !== "refused"));
  await showVerdicts(rows.filter((r) => r.state !== "refused" || /\/(use|out-of-service)$/.test(r.path)));
}

// show brings the page up to date, one run after the other.
let turn = Promise.resolve();
const show = () => (turn = turn.then(showNow, showNow));

// startStrip shows the strip and keeps it true.
export function startStrip() {
  show();
  onChange(show);
  setInterval(() => { show(); lookForSignal(); }, 30000);
  window.addEventListener("online", lookForSignal);
  navigator.serviceWorker.addEventListener("message", (e) => { if (e.data === "fresh" && keptAt) freshen(); });
}
