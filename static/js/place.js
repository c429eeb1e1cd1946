// Marks a place on the body plan by tap or drag, or a spot by tap where the form has no size. The fields stay
// the truth; keyboards use them alone.
import { parseLength, printLength } from "./lengths.js";

const TAP_MM = { us: 304.8, metric: 300 };
const SMALLEST_DRAG_MM = 100;
const SPOT_MM = 300;
const clamp = (value, most) => Math.min(Math.max(value, 0), Math.max(most, 0));

function start(root) {
  const svg = root.querySelector("svg");
  const button = root.querySelector("[data-place-draw]");
  const form = root.closest("form");
  const isSpot = !form?.elements.width;
  const names = ["face", "left", "top", ...(isSpot ? [] : ["width", "height"])];
  const fields = Object.fromEntries(names.map((name) => [name, form?.elements[name]]));
  if (!svg || !button || Object.values(fields).some((field) => !field)) return;
  const faces = [...svg.querySelectorAll("[data-face]")].map(({ dataset: d }) => ({
    name: d.face, x: +d.x, y: +d.y, width: +d.width, height: +d.height,
  }));
  const units = fields.left.dataset.units ?? "us";
  const drawn = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  drawn.setAttribute("class", "plan-drawn");
  drawn.setAttribute("vector-effect", "non-scaling-stroke");
  svg.append(drawn);
  let from = null;

  const toPlan = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());

  function draw() {
    const face = faces.find((each) => each.name === fields.face.value);
    const length = (name) => (fields[name] ? parseLength(fields[name].value, units) : SPOT_MM);
    const [left, top, width, height] = ["left", "top", "width", "height"].map(length);
    drawn.toggleAttribute("hidden", !face || ![left, top, width, height].every(Number.isFinite));
    if (drawn.hasAttribute("hidden")) return;
    const middle = isSpot ? SPOT_MM / 2 : 0;
    const box = { x: face.x + left - middle, y: face.y + top - middle, width, height };
    for (const [name, value] of Object.entries(box)) drawn.setAttribute(name, value);
  }

  function fillSpot(face, point) {
    fields.face.value = face.name;
    fields.left.value = printLength(clamp(point.x - face.x, face.width), units);
    fields.top.value = printLength(clamp(point.y - face.y, face.height), units);
    draw();
  }

  function fill(face, a, b) {
    if (isSpot) return fillSpot(face, b);
    const isTap = Math.hypot(b.x - a.x, b.y - a.y) < SMALLEST_DRAG_MM;
    const span = (axis, size) => {
      const length = isTap ? Math.min(TAP_MM[units], face[size]) : Math.abs(clamp(b[axis] - face[axis], face[size]) - clamp(a[axis] - face[axis], face[size]));
      const begin = isTap ? a[axis] - face[axis] - length / 2 : Math.min(a[axis], b[axis]) - face[axis];
      return [clamp(begin, face[size] - length), Math.max(length, 26)];
    };
    const [[left, width], [top, height]] = [span("x", "width"), span("y", "height")];
    fields.face.value = face.name;
    for (const [name, mm] of Object.entries({ left, top, width, height })) fields[name].value = printLength(mm, units);
    draw();
  }

  button.hidden = false;
  button.addEventListener("click", () => {
    const isOn = root.toggleAttribute("data-drawing");
    button.setAttribute("aria-pressed", String(isOn));
    button.textContent = isOn ? "Done marking" : "Mark on plan";
  });
  svg.addEventListener("pointerdown", (event) => {
    if (!root.hasAttribute("data-drawing") || !event.isPrimary) return;
    const point = toPlan(event);
    const face = faces.find((f) => point.x >= f.x && point.x <= f.x + f.width && point.y >= f.y && point.y <= f.y + f.height);
    if (!face) return;
    event.preventDefault();
    svg.setPointerCapture(event.pointerId);
    from = { face, point };
    fill(face, point, point);
  });
  svg.addEventListener("pointermove", (event) => from && fill(from.face, from.point, toPlan(event)));
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => (from = null));
  for (const field of Object.values(fields)) field.addEventListener("input", draw);
  draw();
}

document.querySelectorAll("[data-place-plan]").forEach(start);
