// The look for the night, chosen on this phone and kept by it, with and without
// signal. Without this script the service does it. A vehicle that keeps that look
// gives it to the pages between, for as long as somebody is at work there.
import { setNote } from "./db.js";

const shift = 7200; // at work on a vehicle, in seconds
const chosen = document.querySelector("form.looks"), night = document.body.dataset.night !== undefined;

// keep has the service and the worker know of a look.
function keep(name, look, seconds) {
  document.cookie = "stowkeeper_" + name + "=" + look + "; path=/; samesite=lax; max-age=" + (look ? seconds : 0) + (location.protocol === "https:" ? "; secure" : "");
  setNote(name, look && Date.now() + seconds * 1000).catch(() => {}); // kept pages ask for it
}

if (night) keep("vehicle_look", "night", shift);
else if (/vehicle_look/.test(document.cookie) && /^\/(b|vehicle)\b/.test(location.pathname)) keep("vehicle_look", "");
if (chosen) chosen.addEventListener("submit", (e) => {
  e.preventDefault();
  e.stopPropagation();
  keep("look", document.documentElement.classList.toggle("night") ? "night" : "", 34560000);
  keep("vehicle_look", "");
});
