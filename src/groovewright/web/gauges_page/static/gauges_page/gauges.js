// The gauges' curves, and a ready gauge's sheet to begin one's own from. Colours come from the page, for both themes.
import { OPTIONS, chartLibrary, colour, paintedLayout } from "../frame/charts.js";

function painted(figure) {
  const data = figure.data.map((trace) => ({ ...trace, line: { ...trace.line, color: colour(trace.meta.colour) } }));
  return { data, layout: paintedLayout(figure.layout) };
}

async function draw(root) {
  const numbers = root.querySelector("#curves-numbers");
  const place = root.querySelector("#curves");
  if (!numbers || !place) return;
  await chartLibrary(document.getElementById("gauges-form").dataset.chartLibrary);
  // Something typed meanwhile may have brought other curves.
  if (!place.isConnected) return;
  if (!place.layout) place.replaceChildren();
  const { data, layout } = painted(JSON.parse(numbers.textContent));
  await Plotly.react(place, data, layout, OPTIONS);
}

// What was opened stays open when the comparison is drawn anew.
let opened = new Set();
const nameOf = (details) => `${details.closest("section").id}: ${details.querySelector("summary").textContent}`;
document.addEventListener("htmx:beforeSwap", () => {
  opened = new Set([...document.querySelectorAll("#results details[open]")].map(nameOf));
});
document.addEventListener("htmx:load", (event) => {
  for (const details of event.detail.elt.querySelectorAll("section details")) if (opened.has(nameOf(details))) details.open = true;
  draw(event.detail.elt);
});
document.addEventListener("groovewright:theme", () => draw(document));

document.addEventListener("click", async (event) => {
  const link = event.target.closest("a[data-begin-from]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const answer = await fetch(link.href);
  if (!answer.ok) return;
  const entry = document.querySelector("textarea.sheet");
  // A gauge needs its own name beside the ready one.
  entry.value = (await answer.text()).replace(/^name = "(.*)"$/m, 'name = "Own $1"');
  entry.focus();
  entry.setSelectionRange(0, 0);
  entry.scrollTop = 0;
  entry.dispatchEvent(new Event("input", { bubbles: true }));
});
