// Goes to the first entry that is wrong, asks before a page with unsaved entries is left, and moves on by Enter where
// the form asks for it.
const form = document.querySelector("form[data-keep]");

if (form) {
  const asLoaded = new URLSearchParams(new FormData(form)).toString();
  let saving = form.hasAttribute("data-refused") ? null : false;

  form.querySelector('[aria-invalid="true"]')?.focus();
  form.addEventListener("submit", (event) => { saving = event.submitter?.formTarget === "_blank" ? saving : true; });
  window.addEventListener("beforeunload", (event) => {
    const changed = saving === null || new URLSearchParams(new FormData(form)).toString() !== asLoaded;
    if (saving !== true && changed) event.preventDefault();
  });
  // Come back to by the browser's own way, the page would show what stood before it was saved.
  window.addEventListener("pageshow", (event) => { if (event.persisted && saving === true) window.location.reload(); });
}

const ENTRIES = "input:not([type=hidden]), select, textarea";

if (form?.hasAttribute("data-enter-moves-on")) {
  const byTouch = window.matchMedia("(pointer: coarse)");
  const button = form.querySelector("button.main");
  const entries = () => [...form.querySelectorAll(ENTRIES)].filter((entry) => entry.checkVisibility());

  for (const entry of form.querySelectorAll(ENTRIES)) entry.enterKeyHint = "next";
  if (!form.hasAttribute("data-refused")) form.querySelector("[data-first]")?.focus();

  form.addEventListener("keydown", (event) => {
    const entry = event.target;
    if (event.key !== "Enter" || event.isComposing || !entry.matches(ENTRIES)) return;
    if (event.ctrlKey || event.metaKey) { event.preventDefault(); form.requestSubmit(button); return; }
    // A new line where lines are typed: always in a note, with Shift or by touch in a sentence.
    const isNote = entry.matches("textarea:not([data-sentence])");
    if (isNote || (entry.matches("textarea") && (event.shiftKey || byTouch.matches))) return;
    event.preventDefault();
    const shown = entries();
    (shown[shown.indexOf(entry) + 1] ?? button).focus();
  });
}
