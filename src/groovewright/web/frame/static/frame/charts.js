// What all charts share. Figures come as plain JSON; colours come from the page, so that both themes hold.
// Without a pointer that hovers the buttons would stand over the legend for good; two fingers enlarge there.
const displayModeBar = matchMedia("(hover: none)").matches ? false : "hover";
export const OPTIONS = { showSendToCloud: false, plotlyServerURL: "", displaylogo: false, responsive: true, displayModeBar };
// A chart is drawn before it comes into sight by about a screen, so that scrolling rarely waits for it.
const NEAR = "500px";
// What A4 or Letter leaves within the margins of the print style and a card, at 96 px an inch.
const PRINTED_WIDTH_PX = 640;
const charts = new Map();
let library = null;

function idle() {
  return new Promise((resolve) => {
    if (window.requestIdleCallback) requestIdleCallback(resolve);
    else setTimeout(resolve, 50);
  });
}

// The library is large, and taking it in holds up all else: first the page can be worked with.
async function fetched(source, quiet) {
  if (document.readyState !== "complete") await new Promise((done) => addEventListener("load", done, { once: true }));
  await idle();
  await quiet();
  const script = document.createElement("script");
  script.src = source;
  await new Promise((done, failed) => {
    script.onload = done;
    script.onerror = failed;
    document.head.append(script);
  });
}

function near(place) {
  return new Promise((done) => {
    const sight = new IntersectionObserver(
      (seen) => {
        if (!seen.some((one) => one.isIntersecting)) return;
        sight.disconnect();
        done();
      },
      { rootMargin: NEAR },
    );
    sight.observe(place);
  });
}

export function colour(name) {
  const probe = document.createElement("span");
  probe.style.color = `var(--${name})`;
  document.body.append(probe);
  const found = getComputedStyle(probe).color;
  probe.remove();
  return found;
}

export function paintedLayout(layout) {
  const painted = structuredClone(layout);
  const axis = { gridcolor: colour("line"), linecolor: colour("edge"), zerolinecolor: colour("edge"), tickcolor: colour("edge") };
  for (const key of Object.keys(painted)) if (/^[xy]axis\d*$/.test(key)) Object.assign(painted[key], axis);
  return Object.assign(painted, {
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    font: { family: "Source Sans Pro, sans-serif", size: 15, color: colour("ink") },
    hoverlabel: { bgcolor: colour("surface"), bordercolor: colour("edge"), font: { size: 15, color: colour("ink") } },
    modebar: { bgcolor: "rgba(0,0,0,0)", color: colour("quiet"), activecolor: colour("accent") },
  });
}

async function drawNow(place, size = {}) {
  if (!place.layout) place.replaceChildren();
  const { data, layout } = charts.get(place)();
  await Plotly.react(place, data, { ...layout, ...size }, OPTIONS);
  place.dispatchEvent(new CustomEvent("groovewright:drawn", { bubbles: true }));
}

// Draws a chart once its place is near the screen, and again in other colours or for print. `paint` returns data and
// layout in the colours of the page; `quiet` may wait for a moment in which nothing is typed.
export async function showChart(place, source, paint, quiet = async () => {}) {
  for (const gone of charts.keys()) if (!gone.isConnected) charts.delete(gone);
  charts.set(place, paint);
  await near(place);
  library ??= fetched(source, quiet);
  await library;
  // Something typed meanwhile may have brought other curves.
  if (place.isConnected && charts.get(place) === paint) await drawNow(place);
}

// Where the axes of a drawn chart are within it, in px, and what its horizontal axis goes from and to.
export function plotArea(place) {
  const boxes = [...place.querySelectorAll(".nsewdrag")].map((box) => ["x", "y", "width", "height"].map((name) => Number(box.getAttribute(name))));
  const [left, , width] = boxes[0];
  const top = Math.min(...boxes.map(([, y]) => y));
  const [first, last] = place.layout.xaxis.range.map(Number);
  return { left, top, width, height: Math.max(...boxes.map(([, y, , height]) => y + height)) - top, first, last };
}

// Draws the figure that stands as JSON beside #curves, in the colours of the page.
export async function drawCurves(root, source) {
  const numbers = root.querySelector("#curves-numbers");
  const place = root.querySelector("#curves");
  if (!numbers || !place) return;
  const figure = JSON.parse(numbers.textContent);
  await showChart(place, source, () => ({
    data: figure.data.map((trace) => ({ ...trace, line: { ...trace.line, color: colour(trace.meta.colour) } })),
    layout: paintedLayout(figure.layout),
  }));
}

function drawnPlaces() {
  return [...charts.keys()].filter((place) => place.isConnected && place.layout);
}

document.addEventListener("groovewright:theme", () => drawnPlaces().forEach((place) => drawNow(place)));
// On paper all charts of the page are wanted, also those that were not in sight yet, and as wide as the paper.
addEventListener("beforeprint", () => {
  if (!window.Plotly) return;
  for (const place of charts.keys()) if (place.isConnected) drawNow(place, { width: PRINTED_WIDTH_PX });
});
addEventListener("afterprint", async () => {
  for (const place of drawnPlaces()) {
    await drawNow(place);
    await Plotly.Plots.resize(place);
  }
});
