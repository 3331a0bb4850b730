// Proves an evidence file by what its own description says, and by nothing else.
// node check.mjs FILE           prints what was proved, or what is wrong
// node check.mjs FILE STEP      also alters every STEP-th byte in turn, and says which of that nobody noticed
import { createHash } from "node:crypto"
import { readFileSync } from "node:fs"

const sha = (b) => createHash("sha256").update(b).digest("hex")
const fail = (why) => { throw new Error(why) }

// Whole lines, as bytes that are text both ways.
function linesOf(bytes) {
  const text = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes)
  if (!text.endsWith("\n")) fail("the last line is cut")
  return text.slice(0, -1).split("\n")
}

function recordHash(m) {
  const parts = []
  const text = (s = "") => {
    const b = Buffer.from(s), n = Buffer.alloc(4)
    n.writeUInt32BE(b.length)
    parts.push(n, b)
  }
  const number = (n = 0) => {
    const b = Buffer.alloc(8)
    b.writeBigInt64BE(BigInt(n))
    parts.push(b)
  }
  const instant = (s) => {
    const [, seconds, micros] = /^(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)\.(\d{6})Z$/.exec(s) ?? fail("no instant: " + s)
    number(BigInt(Date.parse(seconds + "Z")) * 1000n + BigInt(micros))
  }
  text("movement/2"); text(m.prev_hash); text(m.station)
  for (const n of [m.seq, m.lot_id, m.into_lot_id, m.qty]) number(n)
  for (const s of [m.from, m.to, m.reason, m.cause]) text(s)
  instant(m.happened_at); instant(m.recorded_at); number(m.by); number(m.witness)
  text(m.reference); text(m.note); number(m.corrects)
  return sha(Buffer.concat(parts))
}

function prove(bytes) {
  const cut = bytes.lastIndexOf("\nend ") + 1
  const end = bytes.subarray(cut).toString("latin1")
  if (!/^end [0-9a-f]{64}\n$/.test(end)) fail("there is no end")
  if (sha(bytes.subarray(0, cut)) !== end.slice(4, 68)) fail("the sum at the end does not fit")
  return chains(linesOf(bytes.subarray(0, cut)))
}

function chains(lines) {
  const done = { entries: 0, rows: 0, records: 0 }
  let name, number, hash, facts
  const ends = {}
  for (const line of lines.slice(lines.indexOf("---") + 1)) {
    const word = line.slice(0, line.indexOf(" "))
    const rest = line.slice(word.length + 1)
    if (word === "chain" || word === "head") {
      const m = /^(\S+) (\d+) (-|[0-9a-f]{64})$/.exec(rest) ?? fail("a line is no " + word)
      if (word === "chain") [name, number, hash] = [m[1], Number(m[2]), m[3] === "-" ? "" : m[3]]
      else if (m[1] in ends && ends[m[1]][0] > Number(m[2])) fail("a head stands before its chain's end")
      else if (m[1] in ends && ends[m[1]][0] === Number(m[2]) && ends[m[1]][1] !== m[3]) fail("a head does not fit")
    } else if (word === "entry") {
      const [, is, form] = /^([0-9a-f]{64}) (\{.*)$/.exec(rest) ?? fail("a line is no entry")
      if (sha(hash + "\n" + form) !== is) fail("entry " + (number + 1) + " of " + name + " was altered")
      const entry = JSON.parse(form)
      if (entry.seq !== ++number || (entry.chain ?? "service") !== name) fail("an entry stands in the wrong place")
      hash = is
      facts = entry.facts ?? []
      ends[name] = [number, hash]
      done.entries++
    } else if (word === "row") {
      const m = /^(\S+) (\[.*?\]) (\{.*)$/.exec(rest) ?? fail("a line is no row")
      const fits = ([table, key, sum]) => table === m[1] && JSON.stringify(key) === m[2] && sum === sha(m[3])
      if (!facts.some(fits)) fail("a row does not fit its sum: " + m[1] + " " + m[2])
      done.rows++
    } else if (word === "movement") {
      const m = JSON.parse(rest)
      const told = facts.some(([table, key, of]) => table === "movement" && key[0] === m.id && of.hash === m.hash)
      if (!told || recordHash(m) !== m.hash) fail("stock record " + m.id + " was altered")
      done.records++
    } else if (word !== "station" && word !== "person") fail("a line begins with no word that is known")
  }
  return done
}

// Alters bytes: as they are, and with the sum at the end made anew where the line is one that chains or sums prove.
function alter(bytes, step) {
  const unnoticed = []
  const noticed = (b) => { try { prove(b); return false } catch { return true } }
  const body = bytes.lastIndexOf("\nend ") + 1
  const proved = /^(entry|row|movement) /
  for (let i = 0; i < bytes.length; i += step) {
    const b = Buffer.from(bytes)
    b[i] ^= 1
    if (!noticed(b)) unnoticed.push(i)
    const line = bytes.subarray(bytes.lastIndexOf("\n", i - 1) + 1, i + 1 + 9).toString("latin1")
    if (i > bytes.indexOf("\n---\n") && i < body && proved.test(line)) {
      b.write(sha(b.subarray(0, body)), body + 4)
      if (!noticed(b)) unnoticed.push("made anew " + i)
    }
  }
  return unnoticed
}

try {
  const bytes = readFileSync(process.argv[2])
  const done = prove(bytes)
  console.log(`proved: ${done.entries} entries, ${done.rows} rows, ${done.records} stock records`)
  if (process.argv[3]) {
    const unnoticed = alter(bytes, Number(process.argv[3]))
    if (unnoticed.length > 0) fail("altered unnoticed: " + unnoticed.slice(0, 20))
    console.log("every altered byte was noticed")
  }
} catch (e) {
  console.log("wrong: " + e.message)
  process.exitCode = 1
}
