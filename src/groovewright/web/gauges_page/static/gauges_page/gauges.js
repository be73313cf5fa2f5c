// The gauges' curves, and a ready gauge's sheet to begin one's own from. Colours come from the page, for both themes.
import { drawCurves } from "../frame/charts.js";

const draw = (root) => drawCurves(root, document.getElementById("gauges-form").dataset.chartLibrary);

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
