// The page that lists what waits on this phone, and what was sent lately.
import { words, at } from "./words.js";
import { waiting, sent, oneSent, oneWaiting, keepWaiting, discard, note, setNote } from "./db.js";
import { drain, changed, onChange } from "./send.js";
import { element, button } from "./element.js";
import { keptAt } from "./strip.js";
import { touch } from "./lock.js";

const me = document.body.dataset.person;

function stateOf(row) {
  if (row.state === "refused") return words.states.refused([row.message, ...(row.fixes || [])].join(" "));
  if (row.trouble === "signedOut" || row.trouble === "otherPerson" || (me && row.person !== me)) return words.states.signIn(row.person);
  return row.trouble === "later" ? words.states.trouble : words.states.waiting;
}

// correct sends a refused record once more as it is; where it is refused again
// the form comes back with all of it and what is wrong.
async function correct(row) {
  await keepWaiting({ ...row, state: "waiting", pausedTill: 0 });
  await drain({ force: true });
  const done = await oneSent(row.key);
  if (done) { location.assign(done.location); return; }
  const left = await oneWaiting(row.key);
  if (!left || left.state !== "refused") return;
  const form = element("form", "", { method: "post", action: row.path, hidden: true });
  for (const [name, value] of [["key", row.key], ["recorded_at", new Date(row.madeAt).toISOString()], ...row.fields]) {
    form.append(element("input", "", { type: "hidden", name, value }));
  }
  document.body.append(form);
  form.submit();
}

function item(row) {
  const li = element("li"), buttons = element("p", "", { className: "buttons" });
  li.append(element("strong", words.item(row)), element("p", stateOf(row)), element("p", words.itemBy(row), { className: "soft" }));
  if (row.state === "refused" && row.person === me) {
    const drop = button(words.discard, async () => {
      if (!drop.dataset.sure) { drop.dataset.sure = "yes"; drop.textContent = words.discardSure; return; }
      await discard(row.key);
      changed();
    });
    buttons.append(button(words.correct, () => correct(row)), drop);
    li.append(buttons);
  }
  return li;
}

function sentItem(row) {
  const li = element("li"), what = words.item(row), mayLook = row.person === me;
  li.append(mayLook ? element("a", what, { href: row.location }) : element("strong", what), " ",
    element("span", words.sent[row.status](row.because) + " (" + at(row.sentAt) + ")", { className: "soft" }));
  return li;
}

async function fill(page) {
  if (page.contains(document.activeElement) && document.activeElement.dataset.sure) return;
  const rows = await waiting(), done = await sent();
  page.querySelector(".none-waits").hidden = rows.length > 0;
  page.querySelector(".send").hidden = !rows.some((r) => r.state !== "refused");
  page.querySelector("ul.waits").replaceChildren(...rows.map(item));
  page.querySelector(".sent").hidden = !done.length;
  page.querySelector(".sent ul").replaceChildren(...done.map(sentItem));
  const kept = await caches.open("pages").then((c) => c.keys());
  const bags = kept.map((r) => new URL(r.url).pathname.split("/")).filter((p) => p[1] === "b" && p.length === 3).map((p) => decodeURIComponent(p[2])).sort();
  page.querySelectorAll(".keeps").forEach((s) => { s.hidden = !bags.length; });
  page.querySelectorAll(".keeps ul").forEach((u) => u.replaceChildren(...bags.map((code) => {
    const li = element("li");
    li.append(element("a", code, { href: "/b/" + encodeURIComponent(code), className: "code" }));
    return li;
  })));
}

// fillNames has whoever holds the phone now tap their name: what they record is
// said to be theirs until they sign in.
async function fillNames(page) {
  const names = await note("nobody") && await note("names") || [], box = page.querySelector(".who-now");
  box.hidden = !names.length;
  box.querySelector("ul").replaceChildren(...names.map((name) => {
    const li = element("li");
    li.append(button(name, async () => { touch(); await setNote("said", name); location.assign("/board"); }));
    return li;
  }));
}

// startHere fills the page, where this is it.
export function startHere() {
  const page = document.querySelector(".here");
  if (!page) return;
  const show = () => fill(page).catch(() => {});
  page.querySelector(".send button").addEventListener("click", () => drain({ force: true, only: keptAt ? "" : me }));
  show();
  fillNames(page).catch(() => {});
  onChange(show);
  setInterval(show, 30000);
}
