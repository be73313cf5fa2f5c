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

// The words beside a field come back alone while it is typed in; the entry then points at what stands there now.
function pointAtWords() {
  for (const words of document.querySelectorAll(".words")) {
    const entry = document.getElementById(words.id.replace(/^words-/, ""));
    if (!entry) continue;
    const ids = [...words.querySelectorAll("p[id]")].map((sentence) => sentence.id);
    if (ids.length) entry.setAttribute("aria-describedby", ids.join(" "));
    else entry.removeAttribute("aria-describedby");
    if (words.querySelector(".wrong")) entry.setAttribute("aria-invalid", "true");
    else entry.removeAttribute("aria-invalid");
  }
}
document.addEventListener("htmx:oobAfterSwap", pointAtWords);
document.addEventListener("htmx:afterSettle", pointAtWords);

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
  // What opens in another tab leaves this page as it is.
  const elsewhere = event.submitter?.formTarget === "_blank";
  if (event.defaultPrevented || form.method !== "post" || elsewhere) return;
  // What was refused or not written is sent again on purpose.
  const refused = form.matches("[data-again]") || form.querySelector('[aria-invalid="true"]');
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
