// Entries sent as JSON. The same entry keeps its token until it is taken, so sending again records it once.
import { hold, refresh } from "./parts.js";

const NO_CONNECTION = "No connection: this is not recorded yet. What you typed is kept; send it again when it is back.";

/** Take over the forms that record or take back. */
export function takeOver(root) {
  root.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.matches("[data-entry]")) {
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
  const answer = await busy(form, () => post(`/api${root.dataset.tank}/records`, body));
  if (!answer) {
    show(form, "value", NO_CONNECTION);
    return;
  }
  const told = await answer.json();
  if (answer.status === 201) {
    form.reset();
    for (const field of form.querySelectorAll("input:not([type=hidden])")) field.value = "";
    form.elements.entry.value = newToken();
    await refresh(root, `new=${told.id}`);
    announce(`Recorded: ${told.said}.`);
  } else if (told.fields) {
    for (const [name, problem] of Object.entries(told.fields)) show(form, name, problem);
  } else {
    refuse(form, answer, told);
  }
}

async function undo(root, form) {
  const path = new URL(form.action).pathname;
  const answer = await busy(form, () => post(`/api${path}`, {}));
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

async function post(path, body) {
  try {
    return await fetch(path, {
      method: "POST",
      headers: {
        "Content-Type": "application/json",
        "X-Dawnlevel-Token": document.querySelector("meta[name=dawnlevel-token]").content,
      },
      body: JSON.stringify(body),
    });
  } catch {
    return null;
  }
}

async function busy(form, work) {
  const buttons = [...form.querySelectorAll("button")];
  for (const button of buttons) button.disabled = true;
  try {
    return await hold(work);
  } finally {
    for (const button of buttons) button.disabled = false;
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
