// Scanning without waiting: what a scanner types goes into one field, whatever
// is in focus, and is sent in the background. Without this script the page is
// sent and shown anew for each scan.
"use strict";

(function () {
  var GS = "\u001d";
  var delivery = document.getElementById("delivery");
  var queue = [], busy = false;

  function field() { return document.querySelector("input[data-scan]"); }

  function typing(el) {
    return el && el !== field() && /^(INPUT|TEXTAREA|SELECT)$/.test(el.tagName) && el.type !== "hidden";
  }

  function insert(input, text) {
    var at = input.selectionStart, value = input.value;
    input.value = value.slice(0, at) + text + value.slice(input.selectionEnd);
    input.setSelectionRange(at + text.length, at + text.length);
  }

  // Scanners send the separator as Ctrl-], as F8 or as the character itself,
  // none of which a browser types into a field.
  document.addEventListener("keydown", function (e) {
    var input = field();
    if (!input || typing(document.activeElement)) return;
    var separator = e.key === GS || e.key === "F8" || e.ctrlKey && (e.key === "]" || e.code === "BracketRight");
    var plain = e.key.length === 1 && !e.ctrlKey && !e.metaKey && !e.altKey;
    if ((plain || separator) && document.activeElement !== input) input.focus();
    if (separator) { e.preventDefault(); insert(input, GS); }
  });

  if (!delivery) return;

  function focusField() {
    var input = field();
    if (input && !typing(document.activeElement)) input.focus({ preventScroll: true });
  }

  // show puts a page that was answered in the place of this one's delivery.
  // What was typed into the field meanwhile stays.
  function show(html) {
    var next = new DOMParser().parseFromString(html, "text/html").getElementById("delivery");
    if (!next) { location.reload(); return; }
    var typed = field() ? field().value : "";
    var camera = delivery.querySelector(".camera");
    delivery.replaceWith(next);
    delivery = next;
    var fresh = delivery.querySelector(".camera");
    if (camera && fresh) { // which may be running
      camera.querySelector("[name=key]").value = fresh.querySelector("[name=key]").value;
      fresh.replaceWith(camera);
    }
    if (field()) field().value = typed;
    focusField();
  }

  // refuse keeps what was not taken in sight until somebody has seen it: the next
  // scan would hide it, and a pack would be missing.
  var refused = document.getElementById("refused");
  function refuse() {
    var found = delivery.querySelector(".problems");
    if (!found || !refused) return;
    var list = refused.querySelector("ul");
    var fixes = found.querySelectorAll("li");
    (fixes.length ? Array.from(fixes) : [found.querySelector("p")]).forEach(function (el) {
      var li = document.createElement("li");
      li.textContent = el.textContent;
      list.append(li);
    });
    found.remove();
    refused.hidden = false;
    if (navigator.vibrate) navigator.vibrate([200, 100, 200]);
  }
  if (refused) refused.querySelector("button").addEventListener("click", function () {
    refused.hidden = true;
    refused.querySelector("ul").replaceChildren();
    focusField();
  });

  // t marks a text: the service puts it into the language of the pages before
  // it sends the script.
  function t(text, value) { return text.replace("{1}", value); }

  function say(text) {
    var status = delivery.querySelector(".status");
    if (!status) return;
    var p = document.createElement("p");
    p.className = "done said";
    p.textContent = text;
    status.replaceChildren(p);
  }

  // work sends what waits, one after the other. A scan that did not get through
  // is sent again with the same key, so that it counts once.
  function work() {
    if (busy || !queue.length) return;
    busy = true;
    var job = queue[0];
    var form = document.getElementById(job.form);
    if (!job.body) {
      job.body = job.data();
      job.body.set("key", form.querySelector("[name=key]").value);
    }
    fetch(form.action, { method: "POST", body: job.plain ? new URLSearchParams(job.body) : job.body, headers: { "Accept": "text/html" } })
      .then(function (res) {
        if (res.status >= 500) throw new Error("unavailable");
        if (res.redirected && new URL(res.url).pathname.indexOf("/sign-in") === 0 || res.status === 401) { location.reload(); return null; }
        return res.text();
      })
      .then(function (html) {
        busy = false;
        queue.shift();
        if (html !== null) { show(html); refuse(); }
        work();
      })
      .catch(function () {
        busy = false;
        say(t("{1} not sent yet: no connection. Keep this page open.", queue.length));
        setTimeout(work, 2000);
      });
  }

  function send(form, plain, data) {
    queue.push({ form: form, plain: plain, data: data });
    work();
  }

  document.addEventListener("submit", function (e) {
    if (e.target.id === "scan") {
      e.preventDefault();
      e.stopPropagation();
      var text = field().value;
      field().value = "";
      field().focus();
      if (text) send("scan", true, function () { var d = new FormData(); d.set("text", text); return d; });
    } else if (e.target.id === "photo") {
      e.preventDefault();
      e.stopPropagation();
      var file = e.target.querySelector("input[type=file]");
      if (!file.files[0]) return;
      var photo = file.files[0];
      file.value = "";
      say(t("Reading photo …"));
      send("photo", false, function () { var d = new FormData(); d.set("photo", photo); return d; });
    }
  }, true);

  window.addEventListener("focus", focusField);
  focusField();

  // The camera, where the browser itself finds the codes that packs bear. It
  // only finds them: the picture goes to the server, which keeps separators.
  var video = delivery.querySelector(".camera video");
  if (!video || !("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  window.BarcodeDetector.getSupportedFormats().then(function (formats) {
    var wanted = ["data_matrix", "code_128", "qr_code"].filter(function (f) { return formats.indexOf(f) >= 0; });
    if (wanted.indexOf("data_matrix") < 0 || wanted.indexOf("code_128") < 0) return;
    var live = video.closest(".live"), start = live.querySelector(".start"), stop = live.querySelector(".stop"), watching;
    live.hidden = false;
    start.addEventListener("click", function () {
      start.hidden = true;
      navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1920 } } }).then(function (stream) {
        stop.hidden = false;
        video.srcObject = stream;
        watching = watch(new window.BarcodeDetector({ formats: wanted }));
        return video.play();
      }).catch(function (e) {
        start.hidden = false;
        say(e.name === "NotAllowedError" ?
          t("Camera not allowed. Allow it in the browser's settings, or take a photo.") :
          t("Camera not available. Take a photo instead."));
      });
    });
    stop.addEventListener("click", function () {
      clearInterval(watching);
      video.srcObject.getTracks().forEach(function (track) { track.stop(); });
      video.srcObject = null;
      stop.hidden = true;
      start.hidden = false;
      focusField();
    });
  }).catch(function () {});

  function watch(detector) {
    var last = "", seen = 0;
    return setInterval(function () {
      if (queue.length || video.readyState < 2) return;
      detector.detect(video).then(function (found) {
        if (!found.length) { if (Date.now() - seen > 1500) last = ""; return; }
        seen = Date.now();
        if (found[0].rawValue === last || queue.length) return; // the same pack is still in front of it
        last = found[0].rawValue;
        var canvas = document.createElement("canvas");
        canvas.width = video.videoWidth;
        canvas.height = video.videoHeight;
        canvas.getContext("2d").drawImage(video, 0, 0);
        canvas.toBlob(function (blob) {
          var text = last;
          send("photo", false, function () { var d = new FormData(); d.set("photo", blob, "frame.jpg"); d.set("text", text); return d; });
        }, "image/jpeg", 0.9);
      }).catch(function () {});
    }, 300);
  }
})();
