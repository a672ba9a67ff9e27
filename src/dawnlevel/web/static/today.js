// Today without reloading: entries go out and the advice comes back in place. The page works without this too.
import { startCountdown } from "./countdown.js";
import { listen } from "./live.js";
import { takeOver } from "./entry.js";
import { startProbe } from "./picture.js";
import { refresh, watchParts } from "./parts.js";
import { startWaiting } from "./waiting.js";

const root = document.querySelector("[data-tank]");
const EVERY_MS = 60000; // as long as the server keeps an opened case

watchParts();
startCountdown(root);
startProbe(root);
const queue = startWaiting(root, (told) => refresh(root, `new=${told.id}`));
takeOver(root, queue);
listen(root.dataset.tank, () => refresh(root), queue.go);
setInterval(() => {
  if (!document.hidden) refresh(root);
}, EVERY_MS);
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) refresh(root);
});
