import { t } from "./say.js";

// All that the scripts say to people.

// ago words how long something has been going on, from milliseconds.
function ago(ms) {
  const min = Math.max(0, Math.floor(ms / 60000));
  if (min < 1) return t("just now");
  if (min < 60) return t("{1} min ago", min);
  if (min < 48 * 60) return t("{1} h ago", Math.floor(min / 60));
  return t("{1} days ago", Math.floor(min / 1440));
}

// English dates are written as the pages write them.
const lang = document.documentElement.lang, spoken = lang === "en" ? "en-GB" : lang;

// at words a moment: the clock for today, with the date before it otherwise.
export function at(ms) {
  const d = new Date(ms), clock = d.toLocaleTimeString(spoken, { hour: "2-digit", minute: "2-digit" });
  if (d.toDateString() === new Date().toDateString()) return clock;
  return d.toLocaleDateString(spoken, { day: "numeric", month: "short" }) + ", " + clock;
}

export const words = {
  kept: (ms) => t("No signal. As of {1}, {2}.", at(ms), ago(Date.now() - ms)),
  fresh: t("This page has changed."),
  showFresh: t("Reload page"),
  waits: (n, oldest) => t("{1} not sent yet, since {2} ({3})", n, at(oldest), ago(Date.now() - oldest)),
  waitsFor: (n, who) => t("{1} not sent yet, from {2}", n, who),
  waitsSignIn: (n, who) => t("{1} not sent yet, from {2}: sign in to send", n, who),
  refused: (n) => t("{1} rejected: check", n),
  sendNow: t("Send now"),
  signIn: t("Sign in"),
  item: (row) => t("{1}: {2}, {3}", row.bag, row.what, at(row.madeAt)),
  itemBy: (row) => t("{1}, {2}", row.person, ago(Date.now() - row.madeAt)),
  keptNow: (row) => t("{1}, {2}: kept on this phone, sent when there is signal. No need to send it again.", row.bag, row.what),
  waitsHere: (row) => t("{1} not sent yet, since {2} ({3})", row.what, at(row.madeAt), ago(Date.now() - row.madeAt)),
  before: (row) => t("{1} of {2} not sent yet. This page does not include it.", row.what, at(row.madeAt)),
  outOfService: (row) => t("Do not use: out of service by {1}, {2} (not sent yet)", row.person, at(row.madeAt)),
  countWaits: t("A full check now goes to review: the use before it is not sent yet."),
  states: {
    waiting: t("No signal"),
    signIn: (who) => t("{1} must sign in", who),
    trouble: t("Not accepted yet; trying again"),
    refused: (why) => t("Rejected: {1}", why),
  },
  correct: t("Correct"),
  discard: t("Discard"),
  discardSure: t("Discard permanently: this is the only copy"),
  sent: {
    accepted: () => t("Recorded"),
    to_review: (why) => t("To review: {1}", why),
    rejected: () => t("Rejected by the quartermaster"),
  },
  cannot: t("Checks cannot be kept without signal: the address is not https."),
  cannotOld: t("Checks cannot be kept without signal: browser too old."),
  cannotStore: t("Checks cannot be kept without signal: browser storage is off."),
  signOut: (n) => t("{1} not sent yet. They stay on this phone until you sign in again. Sign out?", n),
  notRecorded: t("Not recorded."),
  keepOpen: t("{1} not sent yet: no connection. Keep this page open.", 1),
  writeDown: t("If it must close, write down:"),
  bag: t("Bag"),
  seal: t("Seal"),
  restored: (ms) => t("Your entries from {1} are restored.", at(ms)),
  startAgain: t("Start again"),
  changed: t("changed since"),
  changedSince: (had) => t("{1}: {2}", t("changed since"), had),
  again: (names) => t("{1}: {2}.", t("Count again"), names),
  gone: (names) => t("{1}: {2}.", t("No longer in records"), names),
  also: (what) => t("{1}: {2}.", t("Also"), what),
  why: t("enter a reason"),
  needOne: t("enter at least one quantity"),
};
