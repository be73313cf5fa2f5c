// Goes to the first entry that has to be mended, and asks before a page with unsaved entries is left.
const form = document.querySelector("form[data-keep]");

if (form) {
  const asLoaded = new URLSearchParams(new FormData(form)).toString();
  let saving = form.hasAttribute("data-refused") ? null : false;

  form.querySelector('[aria-invalid="true"]')?.focus();
  form.addEventListener("submit", () => { saving = true; });
  window.addEventListener("beforeunload", (event) => {
    const changed = saving === null || new URLSearchParams(new FormData(form)).toString() !== asLoaded;
    if (saving !== true && changed) event.preventDefault();
  });
  // Come back to by the browser's own way, the page would show what stood before it was saved.
  window.addEventListener("pageshow", (event) => { if (event.persisted && saving === true) window.location.reload(); });
}
