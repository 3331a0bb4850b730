// Moves the lines of a kit list where they stand, by their buttons and by dragging their heads; without it the service
// moves them. What is typed goes from one line to the next, the fields stay. A new line begins in the pouch before it.
(function () {
  "use strict";
  var lines = Array.from(document.querySelectorAll(".kitline.line")), dragged = -1;
  function fields(line) { return Array.from(line.querySelectorAll("input, select, textarea")); }
  function field(line, name) { return line.querySelector("[name$='-" + name + "']"); }
  function swap(a, b) {
    var others = fields(b), heads = [a, b].map(function (l) { return l.querySelector("legend"); });
    var title = heads[0].textContent;
    fields(a).forEach(function (x, i) {
      var y = others[i], value = x.value, checked = x.checked;
      if (x.type !== "checkbox") { x.value = y.value; y.value = value; }
      x.checked = y.checked;
      y.checked = checked;
    });
    heads[0].textContent = heads[1].textContent;
    heads[1].textContent = title;
  }
  function move(from, to) {
    for (var step = Math.sign(to - from); from !== to; from += step) swap(lines[from], lines[from + step]);
    parts();
    lines[to].dispatchEvent(new Event("input", { bubbles: true }));
  }
  function parts() {
    lines.forEach(function (line, i) {
      line.classList.toggle("begins", i > 0 && field(line, "pouch").value !== field(lines[i - 1], "pouch").value);
    });
  }
  lines.forEach(function (line, i) {
    line.querySelectorAll("button[name=move]").forEach(function (b) {
      b.addEventListener("click", function (e) {
        var to = i + (b.value.endsWith(".up") ? -1 : 1);
        e.preventDefault();
        if (!lines[to]) return;
        move(i, to);
        lines[to].querySelector("button[value$='" + b.value.slice(b.value.indexOf(".")) + "']").focus();
      });
    });
    field(line, "item").addEventListener("change", function () {
      var item = field(line, "item").value, pouch = field(line, "pouch"), found;
      document.querySelectorAll("#items option").forEach(function (o) {
        if (o.value === item.toUpperCase() || o.textContent.toLowerCase() === item.toLowerCase()) found = o.textContent;
      });
      if (found) line.querySelector("legend").textContent = found;
      if (i && !pouch.value) pouch.value = field(lines[i - 1], "pouch").value;
      parts();
    });
    field(line, "pouch").addEventListener("change", parts);
    var head = line.querySelector("legend");
    head.draggable = true;
    head.addEventListener("dragstart", function (e) {
      dragged = i;
      e.dataTransfer.setData("text/plain", head.textContent);
    });
    line.addEventListener("dragover", function (e) { if (dragged >= 0) e.preventDefault(); });
    line.addEventListener("drop", function (e) {
      if (dragged < 0) return;
      e.preventDefault();
      move(dragged, i);
      dragged = -1;
    });
  });
})();
