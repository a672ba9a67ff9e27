// Counts down on the tank's clock, which the page carries; the device's own clock may be wrong.
import { onChange } from "./parts.js";

const TICK_MS = 5000;
let told = "";
let ahead = 0;

/** The tank's time now, in milliseconds since 1970. The device's clock counts on through its sleep. */
export function tankNow() {
  return Date.now() + ahead;
}

/** Keep the times that count down in `root` up to date. */
export function startCountdown(root) {
  const set = () => {
    const now = root.querySelector("[data-now]").dataset.now;
    if (now === told) return; // another part was brought
    told = now;
    ahead = Date.parse(now) - Date.now();
  };
  const tick = () => {
    for (const time of root.querySelectorAll("[data-countdown]")) {
      time.textContent = span(Math.max(0, Date.parse(time.dateTime) - tankNow()));
    }
  };
  set();
  onChange(set);
  onChange(tick);
  setInterval(tick, TICK_MS);
}

function span(length) {
  const minutes = Math.round(length / 60000);
  const hours = Math.floor(minutes / 60);
  const rest = minutes % 60;
  if (hours && rest) return `${hours} h ${rest} min`;
  return hours ? `${hours} h` : `${rest} min`;
}
