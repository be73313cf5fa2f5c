// The curves over the groove. The figure comes as plain JSON; colours come from the page, so that both themes hold.
import { OPTIONS, chartLibrary, colour, paintedLayout } from "../frame/charts.js";

const TYPING_MS = 700;
let marker = null;
let pointed = false;
let lastKey = -Infinity;

async function nobodyTypes() {
  while (performance.now() - lastKey < TYPING_MS) await new Promise((done) => setTimeout(done, TYPING_MS));
}

function painted(figure) {
  const layout = paintedLayout(figure.layout);
  for (const shape of layout.shapes) shape.line.color = colour(shape.name === "stylus" ? "look-mark" : "edge");
  const data = figure.data.map((trace) => ({ ...trace, line: { ...trace.line, color: colour(trace.meta.colour) } }));
  return { data, layout };
}

async function draw(root) {
  const numbers = root.querySelector("#curves-numbers");
  const place = root.querySelector("#curves");
  if (!numbers || !place) return;
  await chartLibrary(document.getElementById("choose-form").dataset.chartLibrary, nobodyTypes);
  // Something typed meanwhile may have brought other curves.
  if (!place.isConnected) return;
  if (!place.layout) place.replaceChildren();
  const { data, layout } = painted(JSON.parse(numbers.textContent));
  const stylus = layout.shapes.find((shape) => shape.name === "stylus");
  stylus.x0 = stylus.x1 = Number(document.querySelector("figure.plan-figure").dataset.radius);
  await Plotly.react(place, data, layout, OPTIONS);
  place.removeAllListeners("plotly_hover");
  place.on("plotly_hover", (event) => {
    pointed = true;
    document.dispatchEvent(new CustomEvent("groovewright:hover", { detail: event.points[0].x }));
  });
  place.onmouseleave = () => {
    pointed = false;
    moveMarker(Number(document.querySelector("figure.plan-figure").dataset.radius));
  };
}

// While the pointer is on the curves the marker waits: moving it would wipe the values at the pointer away.
function moveMarker(radius) {
  const place = document.getElementById("curves");
  if (!place?.layout?.shapes || pointed) return;
  cancelAnimationFrame(marker);
  marker = requestAnimationFrame(() => {
    const index = place.layout.shapes.findIndex((shape) => shape.name === "stylus");
    Plotly.relayout(place, { [`shapes[${index}].x0`]: radius, [`shapes[${index}].x1`]: radius });
  });
}

document.addEventListener("keydown", () => { lastKey = performance.now(); }, { capture: true, passive: true });
document.addEventListener("htmx:load", (event) => draw(event.detail.elt));
document.addEventListener("groovewright:theme", () => draw(document));
document.addEventListener("groovewright:radius", (event) => moveMarker(event.detail));
