// The example follows the kind, and what a kind does not need is out of the way.
function follow(form) {
  const kind = form.elements.kind.value;
  form.elements.entry.placeholder = JSON.parse(form.dataset.examples)[kind];
  for (const part of form.querySelectorAll("[data-only]")) {
    const needed = part.dataset.only.split(" ").includes(kind);
    // What was refused stays in sight.
    part.hidden = !needed && !part.querySelector(".wrong");
    if (part.hidden) for (const entry of part.querySelectorAll("input")) entry.value = "";
  }
}

const form = document.querySelector("form[data-examples]");
if (form) {
  follow(form);
  form.elements.kind.addEventListener("change", () => follow(form));
  if (form.querySelector('[aria-invalid="true"]')) form.querySelector('[aria-invalid="true"]').focus();
}
