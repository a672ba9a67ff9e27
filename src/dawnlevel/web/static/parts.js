// The parts of a page that change when something is recorded, fetched from the server and put in their places.

const SHOWN_MS = 60000; // how long "Recorded ..., Undo" stays
const FOCUSABLE = "a[href], button, input, select, textarea, summary, [tabindex]";
const PATIENCE_MS = 60000; // a network that swallows what is asked says nothing
let done = { query: "", until: 0 };
let running = null;
let again = false;
let held = 0;
const listeners = new Set();

/** Call `listener` after every change of a part. */
export function onChange(listener) {
  listeners.add(listener);
}

/** Remember what the page's own address says was just done, so that a refresh keeps it for a while. */
export function watchParts() {
  const query = new URLSearchParams(location.search);
  for (const name of ["new", "gone"]) {
    if (query.has(name)) say(`${name}=${query.get(name)}`);
  }
  if (location.search) history.replaceState(null, "", location.pathname);
}

function say(query) {
  done = { query, until: Date.now() + SHOWN_MS };
}

/** While `work` runs, what others record waits: the page refreshes after it in any case. */
export async function hold(work) {
  held += 1;
  try {
    return await work();
  } finally {
    held -= 1;
  }
}

/** Fetch words first, then the picture; `query` tells what was done, for example `new=17`. */
export async function refresh(root, query = "") {
  if (query) say(query);
  else if (held) return;
  if (running) {
    again = true;
    return running;
  }
  running = (async () => {
    do {
      again = false;
      await bring(root, "words");
      if (!again) await bring(root, "picture"); // words before pictures, also where something came in between
    } while (again);
  })();
  try {
    await running;
  } catch {
    // No connection now; the next minute, or the stream, tries again.
  } finally {
    running = null;
  }
}

async function bring(root, part) {
  const told = Date.now() < done.until ? `&${done.query}` : "";
  const answer = await fetch(`${root.dataset.tank}?part=${part}${told}`, {
    headers: { Accept: "text/html" },
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
  if (answer.status === 401) location.reload();
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const piece of fresh.querySelectorAll("[data-part]")) put(root, piece);
  for (const listener of listeners) listener();
}

function put(root, piece) {
  const old = root.querySelector(`[data-part="${piece.dataset.part}"]`);
  if (!old) return;
  const open = [...old.querySelectorAll("details")].map((details) => details.open);
  const focused = old.contains(document.activeElement) ? nameOf(document.activeElement) : null;
  old.replaceChildren(...piece.childNodes);
  old.querySelectorAll("details").forEach((details, place) => {
    details.open = open[place] ?? details.open;
  });
  if (focused === null) return;
  const same = [...old.querySelectorAll(FOCUSABLE)].find((element) => nameOf(element) === focused);
  (same ?? document.querySelector("#main")).focus({ preventScroll: true }); // what went leaves the focus to the page
}

/** What tells an element that can have the focus from others, before and after its part is brought anew. */
function nameOf(element) {
  const of = ["id", "name", "value", "href"].map((name) => element.getAttribute(name));
  return [element.tagName, ...of, element.form?.getAttribute("action"), element.textContent.trim()].join("\n");
}
