// Says so when a request fails, leaves everything that was typed where it is, and sends no form twice.
const trouble = document.getElementById("trouble");

function tell(sentence) {
  trouble.textContent = sentence;
  trouble.hidden = false;
}

document.addEventListener("htmx:sendError", () => {
  tell("The program does not answer. What you typed is still here; start it again and go on.");
});
document.addEventListener("htmx:responseError", (event) => {
  const { status, responseText } = event.detail.xhr;
  const isSentence = event.detail.xhr.getResponseHeader("Content-Type")?.startsWith("text/plain");
  tell(isSentence ? responseText : `The program could not do that (answer ${status}). What you typed is still here.`);
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (event.detail.successful) trouble.hidden = true;
});

// A second click while a form is on its way would enter the same once more, and so would one that falls on the page
// that came back at once. Coming back to a page frees it; so does a while without an answer, for whoever stopped it.
const LET_GO_MS = 15000;
const DOUBLE_CLICK_MS = 600;
const LAST_SENT = "groovewright-sent";

function sentJustNow(form) {
  try {
    const { action, at } = JSON.parse(sessionStorage.getItem(LAST_SENT)) ?? {};
    sessionStorage.setItem(LAST_SENT, JSON.stringify({ action: form.action, at: Date.now() }));
    return action === form.action && Date.now() - at < DOUBLE_CLICK_MS;
  } catch {
    return false; // Storage may be forbidden.
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  const refused = form.querySelector('[aria-invalid="true"]');
  if (form.getAttribute("aria-busy") === "true" || (sentJustNow(form) && !refused)) {
    event.preventDefault();
    return;
  }
  form.setAttribute("aria-busy", "true");
  setTimeout(() => form.removeAttribute("aria-busy"), LET_GO_MS);
});
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[aria-busy]")) form.removeAttribute("aria-busy");
});
