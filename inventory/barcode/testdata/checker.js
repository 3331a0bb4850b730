// Asks bwip-js, the independent checker of the differential test, about texts.
// Reads one JSON object per line, {"kind": "gs1" | "link", "text": …}, and
// answers each with the error it raised, once with mandatory associations
// (needs) and once without (form); empty means accepted. Only the raw encoders
// run, nothing is drawn.
'use strict';
const bwipjs = require('bwip-js');
const readline = require('readline');

const encoders = { gs1: 'gs1datamatrix', link: 'gs1dldatamatrix' };

function ask(kind, text, lintreqs) {
  try {
    bwipjs.raw({ bcid: encoders[kind], text, lintreqs });
    return '';
  } catch (e) {
    return String(e.message || e);
  }
}

readline.createInterface({ input: process.stdin }).on('line', (line) => {
  const { kind, text } = JSON.parse(line);
  const answer = { form: ask(kind, text, false), needs: ask(kind, text, true) };
  process.stdout.write(JSON.stringify(answer) + '\n');
});
