// Entries that could not be sent: kept on this device with the time they were made, sent when the connection is
// back, and recorded once, since each carries its own token.
import { send } from "./post.js";

const PLACE = "dawnlevel.waiting";
const RETRY_MS = 20000;
let sending = false;

function kept() {
  try {
    return JSON.parse(localStorage.getItem(PLACE)) ?? [];
  } catch {
    return [];
  }
}

function keep(entries) {
  localStorage.setItem(PLACE, JSON.stringify(entries));
}

/** Keep an entry for later; false where this device keeps nothing. `body` holds its token and its moment. */
export function putAside(tank, body, said) {
  try {
    keep([...kept(), { tank, body, said, problem: "" }]);
    return kept().some((one) => one.body.entry === body.entry);
  } catch {
    return false;
  }
}

/** Show what waits for the tank of `root`, and send it when that can be; `sent` is called after some went out. */
export function startWaiting(root, sent) {
  const place = root.querySelector("[data-waiting]");
  const show = () => draw(place, kept().filter((one) => one.tank === root.dataset.tank));
  const go = async () => {
    const told = await sendAll(root.dataset.tank);
    show();
    if (told) sent(told);
  };
  place.addEventListener("click", (event) => {
    const token = event.target.dataset.discard;
    if (!token) return;
    keep(kept().filter((one) => one.body.entry !== token));
    show();
    document.querySelector("#main").focus({ preventScroll: true });
  });
  addEventListener("online", go);
  addEventListener("storage", show);
  setInterval(() => {
    if (kept().length) go();
  }, RETRY_MS);
  show();
  if (kept().length) go();
  return { show, go };
}

/** Send what waits for the tank, oldest first; the last answer that recorded something. */
async function sendAll(tank) {
  if (sending) return null;
  sending = true;
  let last = null;
  try {
    for (const one of kept().filter((entry) => entry.tank === tank && !entry.problem)) {
      const answer = await send(`/api${one.tank}/records`, one.body);
      if (!answer || answer.status >= 500 || [401, 403, 429].includes(answer.status)) break;
      const told = await answer.json();
      if (answer.ok) {
        last = told;
        keep(kept().filter((entry) => entry.body.entry !== one.body.entry));
      } else {
        const problem = Object.values(told.fields ?? {}).join(" ") || told.error?.message || "It was refused.";
        keep(kept().map((entry) => (entry.body.entry === one.body.entry ? { ...entry, problem } : entry)));
      }
    }
  } finally {
    sending = false;
  }
  return last;
}

function draw(place, entries) {
  place.hidden = entries.length === 0;
  const list = place.querySelector("ul");
  list.replaceChildren(
    ...entries.map((one) => {
      const item = place.querySelector("template").content.cloneNode(true);
      item.querySelector(".what").textContent = one.said;
      item.querySelector(".problem").textContent = one.problem;
      const button = item.querySelector("button");
      button.dataset.discard = one.body.entry;
      button.append(unseen(` ${one.said}`));
      return item;
    }),
  );
}

function unseen(text) {
  const words = document.createElement("span");
  words.className = "unseen";
  words.textContent = text;
  return words;
}
