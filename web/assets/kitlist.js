// Moves the lines of a kit list on the page, by their buttons and by dragging their heads; without it the service moves
// them. A line that is dropped within a pouch is of that pouch, and a new one begins in the pouch before it.
(function () {
  "use strict";
  var lines = Array.from(document.querySelectorAll(".kitline.line")), dragged;
  function field(line, name) { return line.querySelector("[name$='-" + name + "']"); }
  function move(line, to) {
    var from = lines.indexOf(line);
    if (to < 0 || to >= lines.length || to === from) return;
    lines[to][to < from ? "before" : "after"](line);
    lines.splice(to, 0, lines.splice(from, 1)[0]);
    lines.forEach(function (l, i) {
      l.querySelectorAll("[name], [id], [for], [aria-describedby], button").forEach(function (e) {
        ["name", "id", "for", "aria-describedby"].forEach(function (a) {
          if (e.hasAttribute(a)) e.setAttribute(a, e.getAttribute(a).replace(/lines-\d+-/, "lines-" + i + "-"));
        });
        if (e.name === "move") e.value = i + e.value.slice(e.value.indexOf("."));
      });
    });
    parts();
    line.dispatchEvent(new Event("input", { bubbles: true }));
  }
  function parts() {
    lines.forEach(function (line, i) {
      line.classList.toggle("begins", i > 0 && field(line, "pouch").value !== field(lines[i - 1], "pouch").value);
    });
  }
  lines.slice().forEach(function (line) {
    line.querySelectorAll("button[name=move]").forEach(function (b) {
      b.addEventListener("click", function (e) {
        e.preventDefault();
        move(line, lines.indexOf(line) + (b.value.endsWith(".up") ? -1 : 1));
        b.focus();
      });
    });
    field(line, "item").addEventListener("change", function () {
      var item = field(line, "item").value, pouch = field(line, "pouch"), i = lines.indexOf(line), found;
      document.querySelectorAll("#items option").forEach(function (o) {
        if (o.value === item.toUpperCase() || o.textContent.toLowerCase() === item.toLowerCase()) found = o.textContent;
      });
      if (found) line.querySelector("legend").textContent = found;
      if (i && !pouch.value) pouch.value = field(lines[i - 1], "pouch").value;
      parts();
    });
    field(line, "pouch").addEventListener("change", parts);
    field(line, "pouch").addEventListener("focus", function (e) { e.target.select(); }); // what is typed replaces it
    var head = line.querySelector("legend");
    head.draggable = true;
    head.addEventListener("dragstart", function (e) {
      dragged = line;
      e.dataTransfer.setData("text/plain", head.textContent);
    });
    head.addEventListener("dragend", function () { dragged = null; });
    line.addEventListener("dragover", function (e) { if (dragged) e.preventDefault(); });
    line.addEventListener("drop", function (e) {
      if (!dragged) return;
      e.preventDefault();
      move(dragged, lines.indexOf(line));
      var i = lines.indexOf(dragged), pouch = i && i + 1 < lines.length && field(lines[i - 1], "pouch").value;
      if (pouch && pouch === field(lines[i + 1], "pouch").value) field(dragged, "pouch").value = pouch;
      parts();
      dragged = null;
    });
  });
})();
