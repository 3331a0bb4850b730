// Reads the label of the next bag by the camera, where the browser finds codes
// by itself, with and without signal. Elsewhere a photo is sent.
"use strict";

(function () {
  var live = document.querySelector(".camera .live"), video = live.querySelector("video"), start = live.querySelector(".start");
  if (!("BarcodeDetector" in window) || !navigator.mediaDevices) return;
  live.hidden = false;

  function go(text) {
    var bag = text.match(/\/b\/([^/?#]+)\/?$/i);
    location.assign(bag ? "/b/" + bag[1] : "/search?q=" + encodeURIComponent(text));
  }

  start.addEventListener("click", function () {
    start.hidden = true;
    navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } }).then(function (stream) {
      video.srcObject = stream;
      var detector = new window.BarcodeDetector({ formats: ["qr_code"] }), timer = setInterval(function () {
        if (video.readyState > 1) detector.detect(video).then(function (found) {
          if (!found.length) return;
          clearInterval(timer);
          stream.getTracks().forEach(function (track) { track.stop(); });
          go(found[0].rawValue);
        }).catch(function () {});
      }, 300);
      return video.play();
    }).catch(function () {
      start.hidden = false;
      live.querySelector(".fix").hidden = false;
    });
  });
})();
