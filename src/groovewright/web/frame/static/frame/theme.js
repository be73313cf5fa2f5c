// Loaded before the style, so that the page is never drawn in the wrong colours first.
(() => {
  const KEY = "groovewright-theme";
  const choices = ["light", "auto", "dark"];

  function kept() {
    try {
      const choice = localStorage.getItem(KEY);
      return choices.includes(choice) ? choice : "auto";
    } catch {
      return "auto"; // Storage may be forbidden; the machine's own setting then holds.
    }
  }

  function keep(choice) {
    try {
      localStorage.setItem(KEY, choice);
    } catch {
      return; // The choice then lasts for this page only.
    }
  }

  function show(choice) {
    const root = document.documentElement;
    if (choice === "auto") root.removeAttribute("data-theme");
    else root.setAttribute("data-theme", choice);
    for (const button of document.querySelectorAll("[data-theme-choice]")) {
      button.setAttribute("aria-pressed", String(button.dataset.themeChoice === choice));
    }
    document.dispatchEvent(new CustomEvent("groovewright:theme"));
  }

  show(kept());
  document.addEventListener("DOMContentLoaded", () => show(kept()));
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-theme-choice]");
    if (!button) return;
    keep(button.dataset.themeChoice);
    show(button.dataset.themeChoice);
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => show(kept()));
})();
