// One verdict: what this phone recorded and has not sent yet counts. The page of
// a bag says what its verdict rests on; this judges it anew, by the rules of the
// service (inventory/readiness.go), with what waits here.
import { t } from "./say.js";

const fold = (s) => (s || "").toUpperCase().replace(/\s+/g, "");

function seal(r, { broken, seen, opens, clears, set }) {
  const looked = () => { r.a = r.a.filter((f) => f.k !== "seal"); };
  if (broken) r.st = "broken";
  else if (seen && fold(seen) !== fold(r.seal)) r.st = r.seal ? "different" : r.st;
  else if (seen) looked();
  if (opens) r.seal = r.tw = "";
  if (clears || (opens && r.st === "intact")) r.st = "";
  if (set) {
    Object.assign(r, { seal: set, st: r.st || "intact", tw: "" });
    looked();
  }
  if (!r.st) looked();
}

// touches tells whether a record is about a bag, or took something from it.
export function touches(row, bag) {
  return row.bag === bag || row.fields.some(([name, value]) => value === "from:" + bag || (value > 0 && name.startsWith("use.") && name.split("@")[1].replace(/\.qty$/, "") === bag));
}

// countedIn tells which batches a full check counted, and whether it is partial
// since it left some out: then it neither renews nor settles what a look at the
// whole bag does.
function countedIn(fields, of) {
  const rows = fields.filter(([n]) => /^row\..*\.counted$/.test(n)).map(([n]) => n.slice(0, -8)), lotOf = (n) => n.split(".")[2];
  const looked = rows.filter((n) => of(n + ".reason") || of(n + ".counted") !== of(n + ".expected")).map(lotOf);
  looked.push(...fields.filter(([n, v]) => v && n.startsWith("point.")).map(([n]) => n.split(".")[1]));
  const counted = rows.filter((n) => !of("partial") || of("seen." + n) || looked.includes(lotOf(n)));
  return { lots: counted.map((n) => Number(lotOf(n))), part: counted.length < rows.length };
}

const fits = (l) => [l[0], ...l.slice(4)]; // the items that count for a line
const label = (r, i) => r.e.find((e) => e.i === i) || {};

// finds counts what a full check found: in its bag, and out of the one that it
// came from. Unreadable units go to quarantine.
function finds(r, bag, row, review, of) {
  for (const [name, what] of row.fields) {
    const at = name.match(/^found.*\./), get = (field) => of(at + field), mine = row.bag === bag, from = what === "from:" + bag;
    if (!at || !name.endsWith("what")) continue;
    if (mine && what === "training_mark") r.b.push({ s: true, t: t("marked for training") });
    if (mine ? review || what[0] !== "f" : !from) continue;
    const called = (row.names || {})[get("item")], batch = get("batch_no"), end = get("end_printed");
    const item = r.n.includes(called) ? r.n.indexOf(called) : r.n.push(called) - 1;
    let n = Number(get("qty"));
    if (from) { // of the one batch that it can be, as the service takes it
      const held = r.s.filter((l, i) => (l[1] || 0) === item && (!batch || fold(label(r, i).b || label(r, i).e) === fold(batch))), could = held.filter((l) => l[2] >= n);
      for (const l of could.length === 1 ? could : held) { const taken = Math.min(n, l[2]); l[2] -= taken; n -= taken; }
      continue;
    }
    const known = r.e.find((e) => (r.s[e.i][1] || 0) === item && fold(e.b || e.e) === fold(batch));
    if (known) { r.s[known.i][2] += n; continue; }
    const past = end && end <= new Date().toISOString().slice(0, end.length); // what ends now does not count either
    const i = r.s.push([0, item, n, past ? 0 : 1, 99]) - 1, f = past ? [{ t: t("{1}: expired (use by {2})", "\u00a4", end) }] : [];
    if (!r.l.flatMap(fits).includes(item)) f.push({ t: t("{1}: not on the list", "\u00a4") });
    r.e.push({ i, b: batch, f });
  }
}

// inspections takes out a device that failed on a point that decides, and
// settles what is due where each of these was passed.
function inspections(r, row, review) {
  for (const i of r.s.keys()) {
    const l = label(r, i), of = row.fields.filter(([n, v]) => v && n.startsWith("point." + r.s[i][0] + ".") && Number(n.split(".")[2]) < (l.p || 1) && !n.endsWith(".note"));
    if (of.some(([, v]) => v === "fail")) {
      r.b.push({ s: true, t: t("{1}: {2}", units(r, i, 1), t("Inspection failed")) });
      r.s[i][2] = 0;
    } else if (l.f && of.length === l.p && !review) l.f = l.f.filter((f) => f.k !== "look");
    if (of.length && !review) r.b = r.b.filter((f) => !failed(f, i));
  }
}

const failed = (f, i) => f.k === "look" && f.l.includes(i);

// settle ends what reports say of the units that a full check counted, and of
// the seal where it counted them all.
function settle(r, { lots, part }) {
  r.s.forEach((l, i) => { if (lots.includes(l[0]) && !r.b.some((f) => failed(f, i))) l[5] = 0; });
  if (part) return;
  r.b = r.b.filter((f) => f.k !== "open" && f.k !== "other");
  for (const f of r.b) if (f.o) f.t = f.o;
}

// apply changes what a verdict rests on by a record. A full check that goes to
// review takes away what it misses, and mends nothing.
function apply(r, bag, row, review) {
  const of = (name) => (row.fields.find(([n]) => n === name) || [])[1] || "", mine = row.bag === bag;
  const add = (id, n) => { for (const l of r.s) if (l[0] === Number(id)) l[2] = Math.max(0, l[2] + n); };
  for (const [name, value] of row.fields) {
    const used = name.match(/^use\.(\d+)@([^@]*?)(?:@\d+)?\.qty$/), counted = name.match(/^(row\.-?\d+\.(\d+)(?:\..*)?)\.counted$/);
    if (used && (used[2] || row.bag) === bag) add(used[1], -value);
    if (counted) {
      const differs = value - of(counted[1] + ".expected"), from = of(counted[1] + ".reason");
      if (mine && !(review && differs > 0)) add(counted[2], differs);
      else if (from === "from:" + bag) add(counted[2], -differs);
    }
  }
  finds(r, bag, row, review, of);
  if (!mine) return;
  inspections(r, row, review);
  const kind = row.path.split("/").pop();
  if (kind === "out-of-service") r.off = of("reason");
  if (kind === "seal-check") seal(r, { broken: of("broken"), seen: of("seal_seen") });
  if (kind === "seal") {
    seal(r, { opens: of("opened"), set: of("seal_set") });
    if (of("seal_set")) r.b = r.b.filter((f) => f.k !== "open");
  }
  if (kind === "use") seal(r, { opens: true, clears: true, set: of("seal_set") });
  const counted = countedIn(row.fields, of), { part } = counted;
  if (kind === "full-check" && review) r.b.push({ t: t("To review: {1}", t("Full check")) });
  else if (kind === "full-check") {
    settle(r, counted);
    seal(r, { seen: of("seal_seen"), opens: true, clears: !part, set: of("seal_set") });
    if (part) return;
    r.a = r.a.filter((f) => f.k !== "full");
    if (of("return_to_service")) r.off = "";
  }
}

// allocate gives each usable unit to at most one line, and returns what lines
// have and what is left of each lot.
function allocate(r) {
  const left = r.s.map(([, , n, usable, , apart]) => (usable ? n - Math.min(n, apart || 0) : 0)), got = r.l.map(() => 0);
  const rows = r.s.map((_, i) => i).sort((a, b) => (r.s[a][4] || 0) - (r.s[b][4] || 0));
  const take = (line, item, want) => rows.filter((i) => (r.s[i][1] || 0) === item).reduce((taken, i) => {
    const n = Math.max(0, Math.min(want - taken, left[i]));
    left[i] -= n;
    return taken + n;
  }, 0);
  for (const upTo of [2, 1]) for (const own of [true, false]) r.l.forEach((line, i) => {
    for (const item of own ? [line[0]] : line.slice(4)) got[i] += take(i, item, Math.max(0, line[upTo] - got[i]));
  });
  return { got, left };
}

function units(r, i, n) {
  const name = r.n[r.s[i][1] || 0], { e, b } = label(r, i);
  if (e) return t("{1} {1|unit|units} of {2}, serial {3}", n, name, e);
  if (b) return t("{1} {1|unit|units} of {2}, batch {3}", n, name, b);
  return t("{1} {1|unit|units} of {2}", n, name);
}

function lineFinding(r, [item, par, minimum, pouch], got) {
  const name = r.n[item], where = r.w[pouch], s = got < minimum;
  if (s && where) return { s, t: t("{1}: {2} of {3} in {4}, at least {5} required", name, got, par, where, minimum) };
  if (s) return { s, t: t("{1}: {2} of {3}, at least {4} required", name, got, par, minimum) };
  return { t: where ? t("{1}: {2} of {3} in {4}", name, got, par, where) : t("{1}: {2} of {3}", name, got, par) };
}

function lotFindings(r, left) {
  const listed = r.l.flatMap(fits), out = [];
  r.s.forEach(([, item, n], i) => {
    if (!n) return;
    for (const f of label(r, i).f || []) out.push({ ...f, t: f.t.replace("\u00a4", units(r, i, n)) });
    if (left[i] > 0 && listed.includes(item || 0)) out.push({ t: t("{1}: more than needed", units(r, i, left[i])) });
  });
  return out;
}

function ruleFindings(r) {
  const held = (items) => r.s.reduce((n, [, item, q, usable, , apart]) => n + (usable && (items || []).includes(item || 0) ? q - Math.min(q, apart || 0) : 0), 0);
  return r.r.filter((k) => k.y || held(k.w)).map((k) => ({ k, have: (k.b || 0) + held(k.n) })).filter(({ k, have }) => have < k.m).map(({ k, have }) => {
    const text = have ? t("{1}: {2}, at least {3} required", k.t, have, k.m) : t("{1}: none, at least {2} required", k.t, k.m);
    return { s: k.s, t: k.c ? t("{1} ({2})", text, k.c) : text };
  });
}

function sealFindings(r) {
  if (!r.sd) return [];
  const out = [];
  if (r.st === "broken") out.push({ s: r.ss, t: t("seal was broken, not checked since") });
  else if (r.st === "different") out.push({ s: r.ss, t: t("seal number differed, not checked since") });
  else if (!r.st) out.push({ t: t("no seal recorded, one required") });
  if (r.tw) out.push({ t: r.tw });
  return out;
}

function headline(r, state, first, gaps) {
  if (state === "out_of_service") return t("Out of service: {1}", r.off);
  if (state === "not_ready") return r.tr ? t("Not ready for training: {1}", first) : t("Do not use: {1}", first);
  if (state === "ready") return r.tr ? t("Ready for training") : t("OK to go out");
  return r.tr ? t("Ready for training, {1} {1|gap|gaps}", gaps) : t("OK to go out, {1} {1|gap|gaps}", gaps);
}

// missed tells whether a report makes usable units missing on a line that is below
// its minimum.
function missed(r, got, f) {
  return (f.l || []).some((i) => r.s[i][3] && Math.min(r.s[i][2], r.s[i][5] || 0) > 0 && r.l.some((l, at) => got[at] < l[2] && fits(l).includes(r.s[i][1] || 0)));
}

// verdictOf judges a bag by what the page says that its verdict rests on, and
// by records that wait here. more are findings about modules in it.
export function verdictOf(rests, bag, rows, more) {
  const r = { n: [], w: [], l: [], s: [], b: [], a: [], r: [], e: [], seal: "", st: "", ...JSON.parse(rests) };
  // A check that was made before the service knew of a use meets a bag that has changed.
  const moved = (row) => /\/(use|full-check)$/.test(row.path) && touches(row, bag);
  rows.forEach((row, i) => apply(r, bag, row, row.path.endsWith("/full-check") && rows.slice(0, i).some(moved)));
  const { got, left } = allocate(r);
  r.b = r.b.filter((f) => f.k !== "look" || r.s[f.l[0]][2]); // else it left the bag
  for (const f of r.b) if (f.k === "units") f.s = missed(r, got, f);
  const all = [...r.l.map((line, i) => (got[i] < line[1] ? lineFinding(r, line, got[i]) : null)).filter(Boolean), ...lotFindings(r, left), ...ruleFindings(r),
    ...r.b.filter((f) => !f.k || !(more || []).some((m) => m.k === f.k)), ...(more || []).filter((m) => m.t), ...sealFindings(r), ...r.a];
  const stops = all.filter((f) => f.s).map((f) => f.t), gaps = all.filter((f) => !f.s).map((f) => f.t);
  const state = r.off ? "out_of_service" : stops.length ? "not_ready" : gaps.length ? "ready_with_gaps" : "ready";
  return { state, headline: headline(r, state, stops[0], gaps.length), stops, gaps, got, lines: r.l, pouches: r.w,
    seal: r.sd && r.st === "intact" ? r.seal : "" };
}

export const stateWords = { ready: t("Ready"), ready_with_gaps: t("Ready with gaps"), not_ready: t("Not ready"), out_of_service: t("Out of service") };

// reasonIn says why a bag that must not go must not.
const reasonIn = (v) => (v.state === "not_ready" ? v.stops[0] : v.headline);

// ofModule is what the verdict about a module says of the bag that it is in.
export function ofModule(code, name, v) {
  return { k: code, s: v.state === "not_ready" || v.state === "out_of_service", t: v.state === "ready" ? "" : t("module {1}, {2}: {3}", name, code, reasonIn(v)) };
}
