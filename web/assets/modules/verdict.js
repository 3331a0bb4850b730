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

// leavesOut tells whether a full check left a batch out: then it is partial, and
// neither renews nor settles what a look at the whole bag does.
function leavesOut(fields, of) {
  const rows = fields.filter(([n]) => /^row\..*\.counted$/.test(n)).map(([n]) => n.slice(0, -8)), lotOf = (n) => n.split(".")[2];
  const looked = rows.filter((n) => of(n + ".reason") || of(n + ".counted") !== of(n + ".expected")).map(lotOf);
  looked.push(...fields.filter(([n, v]) => v && n.startsWith("point.")).map(([n]) => n.split(".")[1]));
  return rows.some((n) => !of("seen." + n) && !looked.includes(lotOf(n)));
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
    if (mine && value === "training_mark") r.b.push({ s: true, t: t("marked for training") });
    if (mine && value === "fail") r.b.push({ s: true, t: t("Inspection failed") });
  }
  if (!mine) return;
  const kind = row.path.split("/").pop();
  if (kind === "out-of-service") r.off = of("reason");
  if (kind === "seal-check") seal(r, { broken: of("broken"), seen: of("seal_seen") });
  if (kind === "seal") seal(r, { opens: of("opened"), set: of("seal_set") });
  if (kind === "use") seal(r, { opens: true, clears: true, set: of("seal_set") });
  const part = kind === "full-check" && of("partial") && leavesOut(row.fields, of);
  if (kind === "full-check" && review) r.b.push({ t: t("To review: {1}", t("Full check")) });
  else if (kind === "full-check") {
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
  const name = r.n[r.s[i][1] || 0], label = r.e.find((e) => e.i === i) || {};
  if (label.e) return t("{1} {1|unit|units} of {2}, serial {3}", n, name, label.e);
  if (label.b) return t("{1} {1|unit|units} of {2}, batch {3}", n, name, label.b);
  return t("{1} {1|unit|units} of {2}", n, name);
}

function lineFinding(r, [item, par, minimum, pouch], got) {
  const name = r.n[item], where = r.w[pouch], s = got < minimum;
  if (s && where) return { s, t: t("{1}: {2} of {3} in {4}, at least {5} required", name, got, par, where, minimum) };
  if (s) return { s, t: t("{1}: {2} of {3}, at least {4} required", name, got, par, minimum) };
  return { t: where ? t("{1}: {2} of {3} in {4}", name, got, par, where) : t("{1}: {2} of {3}", name, got, par) };
}

function lotFindings(r, left) {
  const listed = new Set(r.l.flatMap((l) => [l[0], ...l.slice(4)])), out = [];
  r.s.forEach(([, item, n], i) => {
    if (!n) return;
    for (const f of (r.e.find((e) => e.i === i) || {}).f || []) out.push({ ...f, t: f.t.replace("\u00a4", units(r, i, n)) });
    if (left[i] > 0 && listed.has(item || 0)) out.push({ t: t("{1}: more than needed", units(r, i, left[i])) });
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

// verdictOf judges a bag by what the page says that its verdict rests on, and
// by records that wait here. more are findings about modules in it.
export function verdictOf(rests, bag, rows, more) {
  const r = { n: [], w: [], l: [], s: [], b: [], a: [], r: [], e: [], seal: "", st: "", ...JSON.parse(rests) };
  // A check that was made before the service knew of a use meets a bag that has changed.
  const moved = (row) => /\/(use|full-check)$/.test(row.path) && touches(row, bag);
  rows.forEach((row, i) => apply(r, bag, row, row.path.endsWith("/full-check") && rows.slice(0, i).some(moved)));
  const { got, left } = allocate(r);
  const all = [...r.l.map((line, i) => (got[i] < line[1] ? lineFinding(r, line, got[i]) : null)).filter(Boolean), ...lotFindings(r, left), ...ruleFindings(r),
    ...r.b.filter((f) => !f.k || !(more || []).some((m) => m.k === f.k)), ...(more || []).filter((m) => m.t), ...sealFindings(r), ...r.a];
  const stops = all.filter((f) => f.s).map((f) => f.t), gaps = all.filter((f) => !f.s).map((f) => f.t);
  const state = r.off ? "out_of_service" : stops.length ? "not_ready" : gaps.length ? "ready_with_gaps" : "ready";
  return { state, headline: headline(r, state, stops[0], gaps.length), stops, gaps, got, lines: r.l, pouches: r.w,
    seal: r.sd && r.st === "intact" ? r.seal : "" };
}

export const stateWords = { ready: t("Ready"), ready_with_gaps: t("Ready with gaps"), not_ready: t("Not ready"), out_of_service: t("Out of service") };

// reasonIn says why a bag that must not go must not.
export const reasonIn = (v) => (v.state === "not_ready" ? v.stops[0] : v.headline);
