// The cursor goes where the next entry is wanted, single keys open the entries, and the groove is drawn when it is opened.
import { drawCurves } from "../frame/charts.js";

function settle(wasAsked) {
  const entry = document.getElementById("entry");
  const wrong = entry.querySelector('[aria-invalid="true"]:not([type="radio"])');
  const first =
    [...entry.querySelectorAll(".amount .typed-quantity")].find((amount) => amount.value) ??
    entry.querySelector("[data-next-entry], .typed-quantity, input[type=file]");
  const next = document.querySelector('#next [data-key="n"]');
  const place = wrong ?? (wasAsked || entry.hasAttribute("data-asked") ? first : entry.querySelector(".stored") && next);
  place?.focus();
  if (place === wrong) place?.select?.();
}

document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.elt.id === "entry") settle(true);
});
settle(false);

// What an address points at is shown, also where it is folded away.
function unfold() {
  const fold = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
  if (fold && fold.localName === "details") fold.open = true;
}
addEventListener("hashchange", unfold);
unfold();

// Typing an amount says that it is known, and the box says that it is not: never both.
document.addEventListener("input", (event) => {
  const amount = event.target.closest(".amount");
  if (!amount) return;
  const [typed, box] = [amount.querySelector(".typed-quantity"), amount.querySelector("[type=checkbox]")];
  if (event.target === box && box.checked) typed.value = "";
  if (event.target === typed && typed.value) box.checked = false;
});

// Single keys (WCAG 2.1.4): off while something is typed, and wholly where they were turned off.
const OFF = "groovewright-keys-off";
const keys = document.getElementById("keys");
const box = keys.querySelector("[data-keys-on]");
try {
  box.checked = localStorage.getItem(OFF) === null;
} catch {
  box.checked = true; // Storage may be forbidden; the keys are then on.
}
box.addEventListener("change", () => {
  try {
    if (box.checked) localStorage.removeItem(OFF);
    else localStorage.setItem(OFF, "1");
  } catch {
    return; // The choice then lasts for this page only.
  }
});

function showKeysButtons() {
  for (const button of document.querySelectorAll("[data-open-keys]")) button.hidden = false;
}
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-open-keys]")) keys.showModal();
});
document.addEventListener("htmx:afterSettle", showKeysButtons);
showKeysButtons();

document.addEventListener("keydown", (event) => {
  if (!box.checked || event.ctrlKey || event.altKey || event.metaKey || keys.open || event.isComposing) return;
  if (event.target.closest("input:not([type=radio], [type=checkbox]), textarea, select, [contenteditable]")) return;
  const target = event.key === "?" ? null : document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
  if (event.key !== "?" && !target) return;
  event.preventDefault();
  if (!target) {
    keys.showModal();
    return;
  }
  target.click();
  target.closest("details")?.scrollIntoView();
});

const groove = document.getElementById("groove");
const draw = () => drawCurves(groove, groove.dataset.chartLibrary);
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.elt.closest?.("#groove")) draw();
});
document.addEventListener("groovewright:theme", () => {
  if (groove.open) draw();
});
