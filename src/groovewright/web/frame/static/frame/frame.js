// Says so when a request fails, and leaves everything that was typed where it is.
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
