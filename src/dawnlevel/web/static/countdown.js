// Counts down on the tank's clock, which the page carries; the device's own clock may be wrong.
import { onChange } from "./parts.js";

const TICK_MS = 5000;
let start = 0;
let began = 0;

/** The tank's time now, in milliseconds since 1970. */
export function tankNow() {
  return start + (performance.now() - began);
}

/** Keep the times that count down in `root` up to date. */
export function startCountdown(root) {
  const set = () => {
    start = Date.parse((root.querySelector("[data-words-now]") ?? root).getAttribute("data-words-now") ?? root.dataset.now);
    began = performance.now();
  };
  const tick = () => {
    for (const time of root.querySelectorAll("[data-countdown]")) {
      time.textContent = span(Math.max(0, Date.parse(time.dateTime) - tankNow()));
    }
  };
  set();
  onChange(tick);
  onChange(set);
  setInterval(tick, TICK_MS);
}

function span(length) {
  const minutes = Math.round(length / 60000);
  const hours = Math.floor(minutes / 60);
  const rest = minutes % 60;
  if (hours && rest) return `${hours} h ${rest} min`;
  return hours ? `${hours} h` : `${rest} min`;
}
