import { t } from "./say.js";

// Small helps; every page works without them.

// What a full check must look at: a box a batch, several of them on some lines.
// Changed counts and inspected devices were looked at.
function looked(box) {
  var row = box.closest(".lotrow") || box.parentNode.parentNode.querySelector(".lotrow");
  var n = row.querySelector("input[type=number]"), lot = box.name.split(".").pop();
  return box.checked || n.value !== row.querySelector("[name$='.expected']").value || row.querySelector("select").value !== "" ||
    [].some.call(box.form.querySelectorAll("[name^='point." + lot + ".']:checked"), () => { return true; });
}

function linesLeft(form) {
  return [...form.querySelectorAll(".row")].filter((row) => { return ![...row.querySelectorAll(".seen input")].every(looked); });
}

// What was not counted is asked about before it is sent.
document.addEventListener("submit", (e) => {
  var ask = e.target.querySelector(".partial"), left = ask ? linesLeft(e.target) : [], by = e.submitter;
  if (!left.length || (by && by.name)) return;
  e.preventDefault();
  ask.hidden = false;
  ask.querySelector(".fix").textContent = t("{1} {1|line|lines} not counted", left.length);
  var fold = left[0].closest("details");
  if (fold) fold.open = true;
  left[0].querySelector(".seen input").focus();
  ask.scrollIntoView({ block: "end" });
});

// A form that was sent says so, and cannot be sent twice by an eager thumb.
document.addEventListener("submit", (e) => {
  if (e.target.method !== "post" || e.defaultPrevented) return;
  if (e.target.dataset.sent) { e.preventDefault(); return; }
  e.target.dataset.sent = "yes";
  var b = e.submitter;
  if (b) { b.setAttribute("aria-busy", "true"); b.classList.add("busy"); }
});

// A page that the back button brought up again may be old: a form may be sent
// again, and a page that only shows is fetched anew.
window.addEventListener("pageshow", (e) => {
  document.querySelectorAll("form[data-sent]").forEach((f) => { delete f.dataset.sent; });
  document.querySelectorAll(".busy").forEach((b) => { b.classList.remove("busy"); b.removeAttribute("aria-busy"); });
  if (e.persisted && document.querySelector(".verdict, .bags")) location.reload();
});

document.documentElement.classList.add("js");

// Numbers get buttons for gloved hands, and a count that is not as expected
// opens the question why.
document.querySelectorAll(".counts .lotrow > input[type=number]").forEach((input) => {
  var row = input.parentNode, box = document.createElement("span");
  var expected = row.querySelector("input[name$='.expected']");
  var why = row.querySelector("details"), seen = row.querySelector(".seen input") || row.parentNode.querySelector(".seen input");
  box.className = "stepper";
  row.insertBefore(box, input);
  row.classList.add("stepped");
  function changed() {
    if (!why || !expected) return;
    if (input.value !== expected.value) why.open = true;
    else if (!why.querySelector("select").value) why.open = false;
  }
  // What was changed was looked at.
  function counted() {
    if (!seen || seen.checked) return;
    seen.checked = true;
    seen.dispatchEvent(new Event("change", { bubbles: true }));
  }
  function step(text, by, name) {
    var b = document.createElement("button");
    b.type = "button";
    b.textContent = text;
    b.setAttribute("aria-label", name);
    b.addEventListener("click", () => {
      var n = Math.max(0, (parseInt(input.value, 10) || 0) + by);
      if (!within(n)) return;
      input.value = n;
      changed();
      counted();
    });
    return b;
  }
  // More than lies in the bag is asked about at once, and a device counts once.
  var have = parseInt(row.dataset.have, 10), asked;
  function within(n) {
    if (asked) { asked.remove(); asked = null; }
    if (isNaN(have) || n <= have || input.dataset.more) return true;
    if (row.dataset.single !== undefined) return false;
    asked = document.createElement("p");
    asked.className = "since";
    asked.setAttribute("role", "status");
    asked.append(t("{1} in this bag: more?", have) + " ");
    var yes = document.createElement("button");
    yes.type = "button";
    yes.textContent = t("Yes, {1}", n);
    yes.addEventListener("click", () => {
      input.dataset.more = "yes";
      input.value = n;
      asked.remove();
      input.dispatchEvent(new Event("input", { bubbles: true }));
    });
    asked.append(yes);
    row.append(asked);
    return false;
  }
  if (!isNaN(have)) input.addEventListener("change", () => {
    if (!within(parseInt(input.value, 10) || 0)) input.value = have;
  });
  box.append(step("\u2212", -1, t("one less")), input, step("+", 1, t("one more")));
  input.addEventListener("input", changed);
  input.addEventListener("input", counted);
  changed();
});

// A field that must be put right is not in a closed fold.
document.addEventListener("invalid", (e) => {
  for (var d = e.target.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
}, true);

// Pouches fold once all in them is counted, and the next one opens. From the start those are open that somebody must
// act on, and the first.
document.querySelectorAll(".counts > .pouch").forEach((pouch, i, all) => {
  var boxes = [].slice.call(pouch.querySelectorAll(".seen input")), was;
  if (!boxes.length) return;
  function show() {
    var n = boxes.filter((box) => { return box.checked; }).length;
    var asked = [...pouch.querySelectorAll(".lotrow > details[open] select")].some((why) => { return !why.value; });
    var done = n === boxes.length && !asked;
    pouch.querySelector(".sums").textContent = t("{1} of {2}", n, boxes.length);
    if (was === undefined) pouch.open = !done && (!i || pouch.dataset.act !== undefined || !!pouch.querySelector(".fix"));
    else if (done && !was) {
      if (pouch.contains(document.activeElement)) pouch.firstElementChild.focus({ preventScroll: true });
      pouch.open = false;
      var next = [...all].find((p) => { return p.querySelector(".seen input:not(:checked)"); });
      if (next) next.open = true;
      if (pouch.getBoundingClientRect().top < 0) pouch.scrollIntoView();
    }
    was = done;
  }
  pouch.addEventListener("change", show);
  show();
});

// How far a count has come stands at the foot of the screen all the way.
document.querySelectorAll(".counts .progress").forEach((line) => {
  var form = line.closest("form"), all = [...form.querySelectorAll(".row")].filter((row) => { return row.querySelector(".seen"); }).length;
  function show() {
    line.textContent = t("{1} of {2} {2|line|lines} counted", all - linesLeft(form).length, all);
  }
  if (!all) return;
  line.hidden = false;
  line.closest("form").addEventListener("change", show);
  show();
});
