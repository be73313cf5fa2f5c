// Loaded before the style, so that the page is never drawn in the wrong colours first.
(() => {
  const KEY = "groovewright-theme";
  // In the order in which presses of the button go through them.
  const CHOICES = { auto: "as the machine is set", dark: "dark", light: "light" };

  function kept() {
    try {
      const choice = localStorage.getItem(KEY);
      return Object.hasOwn(CHOICES, choice) ? choice : "auto";
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

  function paint(choice) {
    const root = document.documentElement;
    if (choice === "auto") root.removeAttribute("data-theme");
    else root.setAttribute("data-theme", choice);
  }

  function show(choice) {
    paint(choice);
    const button = document.querySelector("[data-theme-button]");
    if (button) {
      button.title = `Colours: ${CHOICES[choice]}`;
      button.setAttribute("aria-label", `${button.title}. Change`);
      for (const sign of button.children) sign.hidden = sign.dataset.themeSign !== choice;
    }
    document.dispatchEvent(new CustomEvent("groovewright:theme"));
  }

  let chosen = kept();
  show(chosen);
  document.addEventListener("DOMContentLoaded", () => show(chosen));
  document.addEventListener("click", (event) => {
    if (!event.target.closest?.("[data-theme-button]")) return;
    const order = Object.keys(CHOICES);
    chosen = order[(order.indexOf(chosen) + 1) % order.length];
    keep(chosen);
    show(chosen);
  });
  // Paper is light. What is drawn for it, as charts are, finds these colours.
  addEventListener("beforeprint", () => document.documentElement.setAttribute("data-theme", "light"));
  addEventListener("afterprint", () => paint(chosen));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => show(chosen));
})();
