// A number pad for the PIN, for gloved hands. The field stays what it is: a keyboard types into it as before, and it
// shows and keeps nothing.
(function () {
  "use strict";
  function t(text, a, b) { return text.replace("{1}", a).replace("{2}", b); }
  var input = document.querySelector("input[name=secret][inputmode=numeric]"), pad = document.createElement("div"), heard = document.createElement("p");
  if (!input) return;
  input.inputMode = "none"; // the phone's own keys would lie over these
  pad.className = "pad";
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", t("PIN"));
  heard.className = "vh";
  heard.setAttribute("role", "status");
  function put(value) {
    input.value = value;
    heard.textContent = t("{1}: {2}", t("PIN"), value.length);
  }
  "123456789\u00d70".split("").forEach(function (sign) {
    var b = document.createElement("button"), clears = sign === "\u00d7";
    b.type = "button";
    b.textContent = sign;
    if (clears) b.setAttribute("aria-label", t("Start again"));
    b.addEventListener("click", function () { put(clears ? "" : input.value + sign); });
    pad.append(b);
  });
  input.form.querySelector("button.main").before(pad);
  pad.append(input.form.querySelector("button.main"));
  pad.after(heard);
  window.addEventListener("pageshow", function () { input.value = ""; });
})();
