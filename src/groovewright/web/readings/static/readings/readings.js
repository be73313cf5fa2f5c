// The cursor goes where the next entry is needed, or to the first that has to be mended; the example follows the kind.
function settle(root) {
  const place = root.querySelector('[aria-invalid="true"]:not([type="radio"])') ?? root.querySelector("[data-next-entry]");
  place?.focus();
  place?.select?.();
}

document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id === "readings") settle(document.getElementById("readings"));
});
document.addEventListener("change", (event) => {
  const example = event.target.name === "kind" && event.target.form?.querySelector("[data-examples]");
  if (!example) return;
  const entry = event.target.form.elements.entry;
  entry.placeholder = JSON.parse(example.dataset.examples)[event.target.value];
});
settle(document);
