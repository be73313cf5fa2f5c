// Drag the stylus over the record; radius, tracking error and distortion are read off beside it.
import { pivotPosition, radiusTowards, readOff, stylusPosition, trackingErrorDeg } from "./triangle.js";

const FINE = 0.1;
const STEP = 1;
const LEAP = 10;
let lastRadius = null;

function signed(value, digits) {
  const shown = Math.abs(value).toFixed(digits);
  if (Number(shown) === 0) return shown;
  return (value > 0 ? "+" : "−") + shown;
}

function bringToLife(figure) {
  const triangle = JSON.parse(figure.querySelector("#plan-numbers").textContent);
  const svg = figure.querySelector("svg.plan");
  const handle = svg.querySelector("[data-part=stylus]");
  const parts = Object.fromEntries([...figure.querySelectorAll("[data-part]")].map((one) => [one.dataset.part, one]));
  const [pivotX, pivotY] = pivotPosition(triangle);
  let radius = Number(handle.getAttribute("aria-valuenow"));

  function moveTo(wanted) {
    radius = Math.min(triangle.outermost, Math.max(triangle.innermost, wanted));
    lastRadius = radius;
    const [x, y] = stylusPosition(radius, triangle);
    const error = trackingErrorDeg(radius, triangle);
    const distortion = readOff(radius, triangle.curve.radius, triangle.curve.distortion);
    const bearing = (Math.atan2(y - pivotY, x - pivotX) * 180) / Math.PI;
    const radial = (Math.atan2(y, x) * 180) / Math.PI;
    parts.arm.setAttribute("transform", `translate(${pivotX} ${pivotY}) rotate(${bearing})`);
    parts.tangent.setAttribute("transform", `translate(${x} ${y}) rotate(${radial})`);
    parts.groove.setAttribute("r", radius);
    handle.setAttribute("transform", `translate(${x} ${y})`);
    parts["lens-axis"].setAttribute("transform", `rotate(${-error * triangle.magnification})`);
    parts.radius.textContent = radius.toFixed(2);
    parts.error.textContent = signed(error, 2);
    parts.distortion.textContent = distortion.toFixed(3);
    handle.setAttribute("aria-valuenow", radius.toFixed(3));
    handle.setAttribute(
      "aria-valuetext",
      `groove radius ${radius.toFixed(1)} mm, tracking error ${signed(error, 2)} degrees, distortion ${distortion.toFixed(3)} percent`,
    );
    figure.dataset.error = String(error);
    figure.dataset.radius = String(radius);
    document.dispatchEvent(new CustomEvent("groovewright:radius", { detail: radius }));
  }

  function place({ clientX, clientY }) {
    const inverse = svg.getScreenCTM().inverse();
    const point = new DOMPoint(clientX, clientY).matrixTransform(inverse);
    moveTo(radiusTowards([point.x, point.y], triangle));
  }

  // A pointer reports more often than the screen is drawn: one move a frame, to where it is last.
  let pointer = null;
  function follow(event) {
    if (!pointer) {
      requestAnimationFrame(() => {
        place(pointer);
        pointer = null;
      });
    }
    pointer = event;
  }

  handle.addEventListener("pointerdown", (event) => {
    handle.setPointerCapture(event.pointerId);
    handle.focus();
    event.preventDefault();
  });
  handle.addEventListener("pointermove", (event) => {
    if (handle.hasPointerCapture(event.pointerId)) follow(event);
  });
  svg.querySelector("[data-part=record]").addEventListener("click", place);

  handle.addEventListener("keydown", (event) => {
    const step = event.shiftKey ? FINE : STEP;
    const moves = {
      ArrowLeft: radius - step,
      ArrowDown: radius - step,
      ArrowRight: radius + step,
      ArrowUp: radius + step,
      PageDown: radius - LEAP,
      PageUp: radius + LEAP,
      Home: triangle.innermost,
      End: triangle.outermost,
    };
    if (!(event.key in moves)) return;
    event.preventDefault();
    moveTo(moves[event.key]);
  });

  for (const button of figure.querySelectorAll("[data-go-to]")) {
    button.addEventListener("click", () => moveTo(Number(button.dataset.goTo)));
  }
  figure.moveTo = moveTo;
  moveTo(lastRadius ?? radius);
}

function bringAllToLife(root) {
  for (const figure of root.querySelectorAll("figure.plan-figure:not([data-alive])")) {
    figure.dataset.alive = "";
    bringToLife(figure);
  }
}

document.addEventListener("htmx:load", (event) => bringAllToLife(event.detail.elt));
document.addEventListener("groovewright:hover", (event) => document.querySelector("figure.plan-figure")?.moveTo?.(event.detail));
bringAllToLife(document);
