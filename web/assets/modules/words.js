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

function things(n) { return n === 1 ? t("1 waits") : t("{1} wait", n); }

export const words = {
  kept: (ms) => t("No signal. As of {1}, {2}; judged as of then.", at(ms), ago(Date.now() - ms)),
  fresh: t("There is news of this page."),
  showFresh: t("Show it as of now"),
  waits: (n, oldest) => t("{1} here to be sent, since {2}, {3}", things(n), at(oldest), ago(Date.now() - oldest)),
  waitsFor: (n, who) => t("{1} here for {2}, sent when they sign in", things(n), who),
  waitsSignIn: (n, who) => t("{1} here: {2}, sign in to send", things(n), who),
  refused: (n) => n === 1 ? t("1 was not taken: look at it") : t("{1} were not taken: look at them", n),
  sendNow: t("Send now"),
  signIn: t("Sign in"),
  item: (row) => t("{1} of {2}, {3}", row.what, row.bag, at(row.madeAt)),
  itemBy: (row) => t("Recorded by {1}, {2}.", row.person, ago(Date.now() - row.madeAt)),
  keptNow: (row) => t("{1} of {2} is kept on this phone. It is sent when there is signal; you need not send it again.", row.what, row.bag),
  before: (row) => t("{1} of {2} waits on this phone. What this page says was judged before it.", row.what, at(row.madeAt)),
  outOfService: (row) => t("{1} took this bag off at {2}, and that waits on this phone. It must not go out.", row.person, at(row.madeAt)),
  countWaits: t("A full check made now waits for the quartermaster, since nobody can tell whether you counted before that use or after it."),
  states: {
    waiting: t("Waits for signal."),
    signIn: (who) => t("Waits for {1} to sign in.", who),
    trouble: t("The service answered, and could not take it yet. It is tried again."),
    refused: (why) => t("Not taken: {1}", why),
  },
  correct: t("Correct it"),
  discard: t("Discard it"),
  discardSure: t("Really discard: it is recorded nowhere else"),
  sent: {
    accepted: () => t("recorded"),
    to_review: (why) => t("kept: it waits for the quartermaster, because {1}", why),
    rejected: () => t("dismissed by the quartermaster"),
  },
  cannot: t("This phone cannot keep checks without signal: the address is not https."),
  cannotOld: t("This phone cannot keep checks without signal: its browser is too old for it."),
  cannotStore: t("This phone cannot keep checks without signal: its browser refuses to store them."),
  keptPages: (n, ms) => ms ? t("{1} pages are kept on this phone, looked at {2}.", n, ago(Date.now() - ms)) : t("{1} pages are kept on this phone.", n),
  signOut: (n) => t("{1} on this phone and will stay here until you sign in again. Sign out all the same?", things(n)),
  restored: (ms) => t("What you had filled in at {1} is restored.", at(ms)),
  startAgain: t("Start again"),
  overtaken: (ms) => t("You had begun this form at {1}, but the bag changed since: it begins anew.", at(ms)),
  why: t("Say why it differs from what was expected."),
  needOne: t("Say how many of at least one thing were used."),
};
