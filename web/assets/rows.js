// Narrows the tables of a page while it is typed, as the service does where nothing runs: a row shows that has all the
// words, with those that open from it. Of a table that is on the page in part, the rest is fetched first. The heads that
// sort, and the address, keep what was typed.
(function () {
  "use strict";
  var field = document.getElementById("f-rows"), said = document.getElementById("rows-said");
  var part = document.querySelector("table.part"), asked = false;
  function t(text, a, b) { return text.replace("{1}", a).replace("{2}", b); }
  function bodies(page) { return page.querySelectorAll("table.long > tbody"); }
  function put(address) {
    var to = new URL(address);
    if (field.value.trim()) to.searchParams.set("q", field.value.trim()); else to.searchParams.delete("q");
    return to.href;
  }
  function narrow() {
    var words = field.value.toLowerCase().split(/\s+/), all = [], shown = 0;
    bodies(document).forEach(function (body) {
      Array.from(body.rows).forEach(function (row) {
        if (row.className === "inner" && all.length) all[all.length - 1].push(row); else all.push([row]);
      });
    });
    all.forEach(function (rows) {
      var text = rows.map(function (r) { return r.textContent; }).join(" ").toLowerCase();
      var has = words.every(function (w) { return text.includes(w); });
      rows.forEach(function (r) { r.hidden = !has; });
      if (has) shown++;
    });
    said.textContent = t("{1} of {2}", shown, all.length);
    document.querySelectorAll("table.long :is(thead a, a[aria-expanded])").forEach(function (a) { a.href = put(a.href); });
    history.replaceState(history.state, "", put(location.href));
  }
  function showAll() {
    document.querySelectorAll(".phone").forEach(function (e) { e.remove(); });
    document.querySelectorAll(".rest").forEach(function (e) { e.classList.remove("rest"); });
  }
  function fetchAll() {
    if (asked) return;
    asked = true;
    fetch(put(location.href)).then(function (r) { return r.text(); }).then(function (text) {
      var whole = bodies(new DOMParser().parseFromString(text, "text/html"));
      if (whole.length !== bodies(document).length) return location.assign(put(location.href)); // signed out meanwhile
      bodies(document).forEach(function (body, i) { body.replaceWith(whole[i]); });
      document.querySelectorAll(".cut").forEach(function (e) { e.remove(); });
      part = null;
      narrow();
    }).catch(function () { asked = false; });
  }
  field.addEventListener("input", function () { showAll(); (part ? fetchAll : narrow)(); });
  document.querySelectorAll(".phone a").forEach(function (a) {
    a.addEventListener("click", function (e) { e.preventDefault(); history.replaceState(history.state, "", a.href); showAll(); });
  });
  field.form.addEventListener("submit", function (e) { if (!part) { e.preventDefault(); narrow(); } });
})();
