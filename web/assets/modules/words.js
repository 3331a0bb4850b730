// All that the scripts say to people.

// ago words how long something has been going on, from milliseconds.
function ago(ms) {
  const min = Math.max(0, Math.floor(ms / 60000));
  if (min < 1) return "just now";
  if (min < 60) return min + " min ago";
  if (min < 48 * 60) return Math.floor(min / 60) + " h ago";
  return Math.floor(min / 1440) + " days ago";
}

// at words a moment: the clock for today, with the date before it otherwise.
export function at(ms) {
  const d = new Date(ms), clock = d.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  if (d.toDateString() === new Date().toDateString()) return clock;
  return d.toLocaleDateString("en-GB", { day: "numeric", month: "short" }) + ", " + clock;
}

function things(n) { return n === 1 ? "1 waits" : n + " wait"; }

export const words = {
  kept: (ms) => "No signal. As of " + at(ms) + ", " + ago(Date.now() - ms) + "; judged as of then.",
  fresh: "There is news of this page.",
  showFresh: "Show it as of now",
  waits: (n, oldest) => things(n) + " here to be sent, since " + at(oldest) + ", " + ago(Date.now() - oldest),
  waitsFor: (n, who) => things(n) + " here for " + who + ", sent when they sign in",
  waitsSignIn: (n, who) => things(n) + " here: " + who + ", sign in to send",
  refused: (n) => n === 1 ? "1 was not taken: look at it" : n + " were not taken: look at them",
  sendNow: "Send now",
  signIn: "Sign in",
  item: (row) => row.what + " of " + row.bag + ", " + at(row.madeAt),
  itemBy: (row) => "Recorded by " + row.person + ", " + ago(Date.now() - row.madeAt) + ".",
  keptNow: (row) => row.what + " of " + row.bag + " is kept on this phone. It is sent when there is signal; you need not send it again.",
  before: (row) => row.what + " of " + at(row.madeAt) + " waits on this phone. What this page says was judged before it.",
  states: {
    waiting: "Waits for signal.",
    signIn: (who) => "Waits for " + who + " to sign in.",
    trouble: "The service answered, and could not take it yet. It is tried again.",
    refused: "Not taken: ",
  },
  correct: "Correct it",
  discard: "Discard it",
  discardSure: "Really discard: it is recorded nowhere else",
  sent: {
    posted: "recorded",
    waiting: "kept: it waits for the quartermaster, because ",
    dismissed: "dismissed by the quartermaster",
  },
  cannot: "This phone cannot keep checks without signal: the address is not https.",
  cannotOld: "This phone cannot keep checks without signal: its browser is too old for it.",
  cannotStore: "This phone cannot keep checks without signal: its browser refuses to store them.",
  keptPages: (n, ms) => n + " pages are kept on this phone" + (ms ? ", looked at " + ago(Date.now() - ms) + "." : "."),
  signOut: (n) => things(n) + " on this phone and will stay here until you sign in again. Sign out all the same?",
  restored: (ms) => "What you had filled in at " + at(ms) + " is restored.",
  startAgain: "Start again",
  overtaken: (ms) => "You had begun this form at " + at(ms) + ", but the bag changed since: it begins anew.",
  why: "Say why it differs from what was expected.",
  needOne: "Say how many of at least one thing were used.",
};
