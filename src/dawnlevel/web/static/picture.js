// The picture answers a finger or a pointer: the level and its interval at that time.
import { onChange } from "./parts.js";

/** Let the pictures in `root` be read by pointing at them. The table below them says the same. */
export function startProbe(root) {
  let curve = null;
  const load = async () => {
    if (curve) return;
    const answer = await fetch(`/api${root.dataset.tank}/today`);
    if (!answer.ok) return;
    const picture = (await answer.json()).picture.curve;
    curve = { ...picture, at: picture.at.map((moment) => Date.parse(moment)), walls: picture.at };
  };
  onChange(() => {
    curve = null;
  });
  root.addEventListener("pointermove", async (event) => {
    const figure = event.target.closest?.("[data-picture]");
    if (!figure) return;
    await load();
    if (curve) point(figure, event.clientX, curve);
  });
  root.addEventListener("pointerout", (event) => {
    const figure = event.target.closest?.("[data-picture]");
    if (figure && !figure.contains(event.relatedTarget)) remove(figure);
  });
}

function point(figure, x, curve) {
  const svg = [...figure.querySelectorAll("svg")].find((one) => one.getBoundingClientRect().width > 0);
  const line = svg?.querySelector("g.mark-line path")?.getBoundingClientRect();
  if (!line || x < line.left - 4 || x > line.right + 4) {
    remove(figure);
    return;
  }
  const share = Math.min(Math.max((x - line.left) / line.width, 0), 1);
  const moment = curve.at[0] + share * (curve.at.at(-1) - curve.at[0]);
  let place = curve.at.findIndex((at) => at >= moment);
  if (place > 0 && moment - curve.at[place - 1] < curve.at[place] - moment) place -= 1;
  const text = `${curve.walls[place].slice(11, 16)}  ${curve.median[place].toFixed(1)} mg/L, 9 in 10 ${curve.low_90[
    place
  ].toFixed(1)} to ${curve.high_90[place].toFixed(1)}`;
  draw(figure, svg.getBoundingClientRect(), line.left + share * line.width, text);
}

function draw(figure, drawing, x, text) {
  const frame = figure.getBoundingClientRect();
  const probe = figure.querySelector(".probe") ?? figure.appendChild(element("probe"));
  const rule = figure.querySelector(".line") ?? figure.appendChild(element("line"));
  probe.textContent = text;
  const left = Math.min(Math.max(x - frame.left - probe.offsetWidth / 2, 0), frame.width - probe.offsetWidth);
  probe.style.left = `${left}px`;
  rule.style.left = `${x - frame.left}px`;
  rule.style.top = "0";
  rule.style.height = `${drawing.height * 0.8}px`;
}

function element(name) {
  const made = document.createElement("div");
  made.className = name;
  made.setAttribute("aria-hidden", "true");
  return made;
}

function remove(figure) {
  figure.querySelector(".probe")?.remove();
  figure.querySelector(".line")?.remove();
}
