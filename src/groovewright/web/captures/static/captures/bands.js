// The bands over the outline of the recording: flags that are dragged, fields that say the same in numbers.
import { colour, plotArea } from "../frame/charts.js";

const outline = document.querySelector('[data-figure="outline"]');
const layer = document.querySelector(".flags");
const rows = [...document.querySelectorAll("[data-band]")];
const form = document.getElementById("bands-form");
const SHORTEST_S = 0.05;
const NARROW_PX = 110;

const bands = rows.map((row) => {
  const [start, duration] = row.querySelectorAll("input");
  const cell = (name) => Number.parseFloat(row.querySelector(name)?.textContent);
  return {
    row,
    start,
    duration,
    from: () => (start ? Number.parseFloat(start.value.replace(",", ".")) : cell("[data-start]")),
    length: () => (duration ? Number.parseFloat(duration.value.replace(",", ".")) : cell("[data-duration]")),
    moved: () => Boolean(start) && (start.value !== start.defaultValue || duration.value !== duration.defaultValue),
  };
});

function span() {
  const area = plotArea(outline);
  return { ...area, perSecond: area.width / (area.last - area.first) };
}

function flagOf(band) {
  if (band.flag) return band.flag;
  const flag = Object.assign(document.createElement("div"), { className: "flag" });
  const [begin, words, end] = ["end", "words", "end"].map((name) => Object.assign(document.createElement("span"), { className: name }));
  begin.dataset.part = "start";
  end.dataset.part = "end";
  words.textContent = band.row.dataset.band;
  flag.title = band.row.dataset.band;
  flag.append(begin, words, end);
  if (band.start) flag.addEventListener("pointerdown", (event) => drag(band, event));
  layer.append(flag);
  band.flag = flag;
  return flag;
}

function showFlags() {
  if (!outline?.layout) return;
  const { left, first, width, perSecond } = span();
  for (const band of bands) {
    const flag = flagOf(band);
    const begin = (band.from() - first) * perSecond;
    const end = begin + band.length() * perSecond;
    const seenFrom = Math.max(begin, 0);
    const seenTo = Math.min(end, width);
    flag.hidden = !(seenTo > seenFrom);
    if (flag.hidden) continue;
    flag.style.left = `${left + seenFrom}px`;
    flag.style.width = `${Math.max(seenTo - seenFrom, 3)}px`;
    flag.classList.toggle("narrow", seenTo - seenFrom < NARROW_PX);
    flag.classList.toggle("moved", band.moved());
  }
}

function shapes() {
  return bands
    .filter((band) => band.from() >= 0 && band.length() > 0)
    .map((band) => ({
      type: "rect",
      x0: band.from(),
      x1: band.from() + band.length(),
      yref: "paper",
      y0: 0,
      y1: 1,
      layer: "below",
      fillcolor: colour(band.moved() ? "look-soft" : "accent-soft"),
      line: { width: 1, color: colour(band.moved() ? "look-mark" : "accent") },
    }));
}

let asked = 0;
function show() {
  for (const band of bands) {
    band.row.classList.toggle("moved", band.moved());
    const how = band.row.querySelector("[data-how]");
    if (!how || !band.start) continue;
    how.dataset.was ??= how.textContent;
    how.textContent = band.moved() ? "moved by hand" : how.dataset.was;
  }
  const reset = form?.querySelector("[data-reset]");
  if (reset) reset.hidden = !bands.some((band) => band.moved());
  if (!outline?.layout) return;
  cancelAnimationFrame(asked);
  asked = requestAnimationFrame(() => {
    showFlags();
    Plotly.relayout(outline, { shapes: shapes() });
  });
}

function write(field, seconds) {
  field.value = String(Number(Math.max(0, seconds).toFixed(3)));
}

function drag(band, event) {
  event.preventDefault();
  const { perSecond } = span();
  const part = event.target.dataset.part;
  const [from, length] = [band.from(), band.length()];
  const all = outline.layout.xaxis.autorange ? span().last : Infinity;
  const move = (now) => {
    const shift = (now.clientX - event.clientX) / perSecond;
    if (part === "start") {
      const begin = Math.min(Math.max(0, from + shift), from + length - SHORTEST_S);
      write(band.start, begin);
      write(band.duration, from + length - begin);
    } else if (part === "end") {
      write(band.duration, Math.max(SHORTEST_S, length + shift));
    } else {
      write(band.start, Math.min(from + shift, all - length));
    }
    show();
  };
  band.flag.setPointerCapture(event.pointerId);
  band.flag.addEventListener("pointermove", move);
  const end = () => band.flag.removeEventListener("pointermove", move);
  band.flag.addEventListener("pointerup", end, { once: true });
  band.flag.addEventListener("pointercancel", end, { once: true });
}

layer?.classList.toggle("still", !bands.some((band) => band.start));
outline?.addEventListener("groovewright:drawn", () => {
  outline.removeAllListeners("plotly_afterplot");
  outline.on("plotly_afterplot", showFlags);
  show();
});
form?.addEventListener("input", show);
form?.addEventListener("reset", () => setTimeout(show));
