// Entries sent as JSON. The same entry keeps its token until it is taken, so sending again records it once.
import { tankNow } from "./countdown.js";
import { hold, refresh } from "./parts.js";
import { send } from "./post.js";
import { putAside } from "./waiting.js";

const NO_CONNECTION = "No connection: this is not recorded yet. What you typed is kept; send it again when it is back.";
const PUT_ASIDE = "No connection: kept on this device with its time, and sent when the connection is back.";
let waiting = null;

/** Take over the forms that record or take back; `queue` shows and sends what waits. */
export function takeOver(root, queue) {
  waiting = queue;
  const distress = document.querySelector("form.distress");
  distress?.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!isBusy(distress)) tellDistress(root, distress);
  });
  root.addEventListener("submit", (event) => {
    const form = event.target;
    if (isBusy(form)) {
      event.preventDefault(); // it is on its way
    } else if (form.matches("[data-entry]")) {
      event.preventDefault();
      record(root, form, new FormData(form, event.submitter));
    } else if (form.matches("[data-undo]")) {
      event.preventDefault();
      undo(root, form);
    }
  });
}

async function record(root, form, data) {
  const body = {};
  for (const [name, text] of data) {
    if (name !== "form_token" && text.trim() !== "") body[name] = text.trim();
  }
  clear(form);
  if (!("value" in body)) {
    form.removeAttribute("data-entry"); // the server says what is missing, beside the field
    form.submit();
    return;
  }
  const answer = await busy(form, () => send(`/api${root.dataset.tank}/records`, body));
  if (!answer) {
    if (later(root, body, form.dataset.said ?? "")) {
      empty(form);
      announce(PUT_ASIDE);
    } else {
      show(form, "value", NO_CONNECTION);
    }
    return;
  }
  const told = await answer.json();
  if (answer.status === 201) {
    empty(form);
    await refresh(root, `new=${told.id}`);
    announce(`Recorded: ${told.said}.`);
  } else if (told.fields) {
    for (const [name, problem] of Object.entries(told.fields)) show(form, name, problem);
  } else {
    refuse(form, answer, told);
  }
}

/** Put an entry aside with its time; not one whose time was given in words, which may mean another day by then. */
function later(root, body, kind) {
  if ("at" in body) return false;
  const now = new Date(tankNow());
  const clock = now.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: root.dataset.zone });
  const is = putAside(root.dataset.tank, { ...body, at: now.toISOString() }, `${clock} ${kind} ${body.value}`.trim());
  waiting.show();
  return is;
}

function empty(form) {
  form.reset();
  for (const field of form.querySelectorAll("input:not([type=hidden])")) field.value = "";
  form.elements.entry.value = newToken();
}

/** Distress goes out as every form does; without a connection what to do stands on the page at once all the same. */
async function tellDistress(root, form) {
  const body = { kind: "fish", value: "distress", entry: form.elements.entry.value };
  const answer = await busy(form, () => send(`/api${root.dataset.tank}/records`, body));
  if (answer) {
    form.submit(); // the same entry: recorded once, and the page says what to do
    return;
  }
  const place = root.querySelector("[data-distress]");
  place.replaceChildren(place.querySelector("template").content.cloneNode(true), place.querySelector("template"));
  place.hidden = false;
  later(root, body, "fish");
  form.elements.entry.value = newToken();
  place.scrollIntoView();
  announce(place.innerText);
}

async function undo(root, form) {
  const path = new URL(form.action).pathname;
  const answer = await busy(form, () => send(`/api${path}`, {}));
  if (!answer) {
    announce(NO_CONNECTION);
    return;
  }
  const told = await answer.json();
  if (answer.ok) {
    await refresh(root, `gone=${told.id}`);
    announce("Taken back.");
  } else {
    refuse(form, answer, told);
  }
}

function isBusy(form) {
  return form.getAttribute("aria-busy") === "true";
}

/** Do `work` while the form's buttons say that they are at it; they keep the focus, unlike disabled ones. */
async function busy(form, work) {
  const buttons = [...form.querySelectorAll("button")];
  form.setAttribute("aria-busy", "true");
  for (const button of buttons) button.setAttribute("aria-disabled", "true");
  try {
    return await hold(work);
  } finally {
    form.removeAttribute("aria-busy");
    for (const button of buttons) button.removeAttribute("aria-disabled");
  }
}

function refuse(form, answer, told) {
  if (answer.status === 401 || answer.status === 403) location.reload();
  show(form, "value", [told.error.message, told.error.cure].filter(Boolean).join(" "));
}

function clear(form) {
  for (const place of form.querySelectorAll("[data-problem]")) place.textContent = "";
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    field.closest(".field")?.classList.remove("wrong");
  }
}

function show(form, name, problem) {
  const place = form.querySelector(`[data-problem="${name}"]`) ?? form.querySelector("[data-problem]");
  if (!place) {
    announce(problem);
    return;
  }
  place.textContent = problem;
  const details = place.closest("details");
  if (details) details.open = true;
  const field = form.querySelector(`input[name="${name}"]:not([type=hidden])`);
  if (field) {
    field.setAttribute("aria-invalid", "true");
    field.closest(".field").classList.add("wrong");
    field.focus();
  } else {
    announce(problem);
  }
}

function announce(text) {
  document.querySelector("#told").textContent = text;
}

/** A token for one entry. randomUUID is not there on plain http in a home network. */
export function newToken() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}
