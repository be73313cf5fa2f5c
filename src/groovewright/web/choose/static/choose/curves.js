// The curves over the groove. The figure comes as plain JSON; colours come from the page, so that both themes hold.
const OPTIONS = { showSendToCloud: false, plotlyServerURL: "", displaylogo: false, responsive: true, displayModeBar: "hover" };
const TYPING_MS = 700;
let marker = null;
let pointed = false;
let lastKey = -Infinity;
let library = null;

function idle() {
  return new Promise((resolve) => {
    if (window.requestIdleCallback) requestIdleCallback(resolve);
    else setTimeout(resolve, 50);
  });
}

// The library is large, and taking it in holds up all else: first the page can be worked with, and nobody is typing.
async function fetchLibrary() {
  if (document.readyState !== "complete") await new Promise((done) => addEventListener("load", done, { once: true }));
  await idle();
  while (performance.now() - lastKey < TYPING_MS) await new Promise((done) => setTimeout(done, TYPING_MS));
  const script = document.createElement("script");
  script.src = document.getElementById("choose-form").dataset.chartLibrary;
  await new Promise((done, failed) => {
    script.onload = done;
    script.onerror = failed;
    document.head.append(script);
  });
}

function colour(name) {
  const probe = document.createElement("span");
  probe.style.color = `var(--${name})`;
  document.body.append(probe);
  const found = getComputedStyle(probe).color;
  probe.remove();
  return found;
}

function painted(figure) {
  const axis = { gridcolor: colour("line"), linecolor: colour("edge"), zerolinecolor: colour("edge"), tickcolor: colour("edge") };
  const layout = structuredClone(figure.layout);
  for (const key of Object.keys(layout)) if (/^[xy]axis\d*$/.test(key)) Object.assign(layout[key], axis);
  Object.assign(layout, {
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    font: { family: "Source Sans Pro, sans-serif", size: 15, color: colour("ink") },
    hoverlabel: { bgcolor: colour("surface"), bordercolor: colour("edge"), font: { size: 15, color: colour("ink") } },
    modebar: { bgcolor: "rgba(0,0,0,0)", color: colour("quiet"), activecolor: colour("accent") },
  });
  for (const shape of layout.shapes) shape.line.color = colour(shape.name === "stylus" ? "look-mark" : "edge");
  const data = figure.data.map((trace) => ({ ...trace, line: { ...trace.line, color: colour(trace.meta.colour) } }));
  return { data, layout };
}

async function draw(root) {
  const numbers = root.querySelector("#curves-numbers");
  const place = root.querySelector("#curves");
  if (!numbers || !place) return;
  library ??= fetchLibrary();
  await library;
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
