// Each picture is drawn when it comes into sight; the figures come as plain JSON, their colours from the page.
import { colour, paintedLayout, showChart } from "../frame/charts.js";

function faded(name, part) {
  const canvas = document.createElement("canvas").getContext("2d");
  canvas.fillStyle = colour(name);
  canvas.fillRect(0, 0, 1, 1);
  const [red, green, blue] = canvas.getImageData(0, 0, 1, 1).data;
  return `rgba(${red},${green},${blue},${part})`;
}

function paintedTrace(trace) {
  const { meta } = trace;
  if (meta.scale) {
    const steps = meta.scale.map((name, k) => [k / (meta.scale.length - 1), colour(name)]);
    return { ...trace, colorscale: steps, colorbar: { ...trace.colorbar, tickcolor: colour("edge") } };
  }
  const shade = colour(meta.colour);
  const painted = { ...trace, line: { ...trace.line, color: shade } };
  if (trace.marker) painted.marker = { ...trace.marker, color: shade, line: { ...trace.marker.line, color: colour("surface") } };
  if (trace.error_y) painted.error_y = { ...trace.error_y, color: shade, thickness: 1.8, width: 5 };
  if (meta.fill) painted.fillcolor = faded(meta.colour, meta.fill);
  return painted;
}

function painted(figure) {
  const layout = paintedLayout(figure.layout);
  for (const shape of layout.shapes ?? []) shape.line.color = colour(shape.name);
  for (const note of layout.annotations ?? []) Object.assign(note, { arrowcolor: colour("edge"), arrowwidth: 1.2, font: { size: 13, color: colour("ink") } });
  return { data: figure.data.map(paintedTrace), layout };
}

for (const place of document.querySelectorAll("[data-figure]")) {
  place.style.minHeight = `${place.dataset.height}px`;
  const figure = JSON.parse(place.closest("section").querySelector('script[type="application/json"]').textContent);
  showChart(place, document.getElementById("capture").dataset.chartLibrary, () => painted(figure));
}
