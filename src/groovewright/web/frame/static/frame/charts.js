// What all charts share. Figures come as plain JSON; colours come from the page, so that both themes hold.
// Without a pointer that hovers the buttons would stand over the legend for good; two fingers enlarge there.
const displayModeBar = matchMedia("(hover: none)").matches ? false : "hover";
export const OPTIONS = { showSendToCloud: false, plotlyServerURL: "", displaylogo: false, responsive: true, displayModeBar };
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

// `quiet` may wait for a moment in which nothing is typed.
export function chartLibrary(source, quiet = async () => {}) {
  library ??= fetched(source, quiet);
  return library;
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

// Draws the figure that stands as JSON beside #curves, in the colours of the page.
export async function drawCurves(root, source) {
  const numbers = root.querySelector("#curves-numbers");
  const place = root.querySelector("#curves");
  if (!numbers || !place) return;
  await chartLibrary(source);
  // Something typed meanwhile may have brought other curves.
  if (!place.isConnected) return;
  if (!place.layout) place.replaceChildren();
  const figure = JSON.parse(numbers.textContent);
  const data = figure.data.map((trace) => ({ ...trace, line: { ...trace.line, color: colour(trace.meta.colour) } }));
  await Plotly.react(place, data, paintedLayout(figure.layout), OPTIONS);
}
