// Small helps; every page works without them.
"use strict";

// A form that was sent says so, and cannot be sent twice by an eager thumb.
document.addEventListener("submit", function (e) {
  if (e.target.method !== "post") return;
  if (e.target.dataset.sent) { e.preventDefault(); return; }
  e.target.dataset.sent = "yes";
  var b = e.submitter;
  if (b) { b.setAttribute("aria-busy", "true"); b.classList.add("busy"); }
});

// A page that the back button brought up again may be old: a form may be sent
// again, and a page that only shows is fetched anew.
window.addEventListener("pageshow", function (e) {
  document.querySelectorAll("form[data-sent]").forEach(function (f) { delete f.dataset.sent; });
  document.querySelectorAll(".busy").forEach(function (b) { b.classList.remove("busy"); b.removeAttribute("aria-busy"); });
  if (e.persisted && document.querySelector(".verdict, .bags")) location.reload();
});
