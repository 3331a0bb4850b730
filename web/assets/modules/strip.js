// The strip at the top of every page: how old the page is, and what waits on
// this phone to be sent.
import { words } from "./words.js";
import { waiting } from "./db.js";
import { drain, onChange } from "./send.js";

// keptAt is when this page was kept, in milliseconds, where it is shown without
// signal; 0 for a page that the service sent just now.
export const keptAt = Number(document.body.dataset.kept || 0);

const strip = document.getElementById("strip");
const me = document.body.dataset.person;
let said = "", fresh = false;

export function element(name, text, more) {
  const e = Object.assign(document.createElement(name), more);
  if (text) e.textContent = text;
  return e;
}

function line(...parts) {
  const p = element("p");
  p.append(...parts);
  return p;
}

export function button(text, do_) {
  const b = element("button", text, { type: "button" });
  b.addEventListener("click", do_);
  return b;
}

// say puts a sentence on the strip.
export function say(text) { said = text; show(); }

// sayFresh offers the page as it is now.
export function sayFresh() { fresh = true; show(); }

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
  const [, kind, code] = location.pathname.split("/");
  document.querySelectorAll(".unsent").forEach((e) => e.remove());
  if ((kind !== "b" && kind !== "B") || !code) return;
  const box = element("div", "", { className: "done waiting unsent" });
  const ofBag = rows.filter((r) => r.bag.toUpperCase() === decodeURIComponent(code).toUpperCase());
  ofBag.forEach((r) => box.append(element("p", (r.path.endsWith("/out-of-service") ? words.outOfService : words.before)(r))));
  if (ofBag.some((r) => r.path.endsWith("/use")) && location.pathname.endsWith("/full-check")) box.append(element("p", words.countWaits));
  if (box.firstChild) document.getElementById("main").prepend(box);
  sealNow(ofBag.filter((r) => /\/(use|full-check|seal)$/.test(r.path)).pop());
}

// sealNow has the one tap of a bag's page speak of the seal that went on with a
// record that waits here, and of none where it was opened and left without.
function sealNow(row) {
  const seen = document.querySelector(".actions form input[name=seal_seen]");
  if (!row || !seen) return;
  const set = (row.fields.find(([name]) => name === "seal_set") || [])[1];
  seen.form.hidden = !set;
  seen.value = seen.form.querySelector("b").textContent = set || "";
}

async function show() {
  const rows = await waiting().catch(() => []), parts = [];
  if (keptAt && !fresh) parts.push(line(words.kept(keptAt)));
  if (fresh) parts.push(line(words.fresh, button(words.showFresh, () => location.reload())));
  if (said) parts.push(line(said));
  parts.push(...lines(rows));
  strip.replaceChildren(...parts);
  strip.hidden = !parts.length;
  here(rows);
}

// startStrip shows the strip and keeps it true.
export function startStrip() {
  show();
  onChange(show);
  setInterval(show, 30000);
  navigator.serviceWorker.addEventListener("message", (e) => { if (e.data === "fresh" && keptAt) sayFresh(); });
}
