// The curves over the groove, with a line where the stylus is. The figure comes as plain JSON.
import { colour, paintedLayout, plotArea, showChart } from "../frame/charts.js";

const TYPING_MS = 700;
let area = null;
let lastKey = -Infinity;

async function nobodyTypes() {
  while (performance.now() - lastKey < TYPING_MS) await new Promise((done) => setTimeout(done, TYPING_MS));
}

function radiusNow() {
  return Number(document.querySelector("figure.plan-figure").dataset.radius);
}

// The line lies over the chart and is moved alone: to draw the chart anew at every move would cost most of the frames.
function moveMarker(radius) {
  const marker = document.getElementById("stylus-line");
  if (!marker || !area) return;
  const share = (radius - area.first) / (area.last - area.first);
  marker.hidden = !(share >= 0 && share <= 1);
  marker.style.transform = `translateX(${area.left + share * area.width}px)`;
}

function placeMarker(place) {
  area = plotArea(place);
  const marker = document.getElementById("stylus-line");
  marker.style.top = `${area.top}px`;
  marker.style.height = `${area.height}px`;
  moveMarker(radiusNow());
}

function show(root) {
  const numbers = root.querySelector("#curves-numbers");
  const place = root.querySelector("#curves");
  if (!numbers || !place) return;
  area = null;
  const figure = JSON.parse(numbers.textContent);
  place.addEventListener("groovewright:drawn", () => {
    for (const event of ["plotly_hover", "plotly_afterplot"]) place.removeAllListeners(event);
    place.on("plotly_afterplot", () => placeMarker(place));
    place.on("plotly_hover", (event) => {
      document.dispatchEvent(new CustomEvent("groovewright:hover", { detail: event.points[0].x }));
    });
    placeMarker(place);
  });
  showChart(place, document.getElementById("choose-form").dataset.chartLibrary, () => {
    const layout = paintedLayout(figure.layout);
    for (const shape of layout.shapes) shape.line.color = colour("edge");
    const data = figure.data.map((trace) => ({ ...trace, line: { ...trace.line, color: colour(trace.meta.colour) } }));
    return { data, layout };
  }, nobodyTypes);
}

document.addEventListener("keydown", () => { lastKey = performance.now(); }, { capture: true, passive: true });
document.addEventListener("htmx:load", (event) => show(event.detail.elt));
document.addEventListener("groovewright:radius", (event) => moveMarker(event.detail));
