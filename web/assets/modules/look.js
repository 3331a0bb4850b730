// The look for the night, chosen on this phone and kept by it, with and without
// signal. Without this script the service does it.
import { setNote } from "./db.js";

const form = document.querySelector("form[action='/look']");
if (form) form.addEventListener("submit", (e) => {
  e.preventDefault();
  e.stopPropagation();
  const look = document.documentElement.classList.toggle("night") ? "night" : "";
  document.cookie = "stowkeeper_look=" + look + "; path=/; samesite=lax; max-age=" + (look ? 34560000 : 0) + (location.protocol === "https:" ? "; secure" : "");
  setNote("look", look).catch(() => {}); // kept pages ask for it
});
