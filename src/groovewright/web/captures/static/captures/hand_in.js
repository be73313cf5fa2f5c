// A recording is sent in pieces as soon as the form is, so that its length costs no memory and its way in shows.
const form = document.getElementById("hand-in");
const place = form.querySelector("[data-drop]");
const words = form.querySelector("[data-drop-words]");
const file = form.elements.recording;
const sheet = form.elements.sheet;
const sending = form.querySelector("[data-sending]");
let sent = false;

function sizeInWords(bytes) {
  const [unit, step] = [["GB", 2 ** 30], ["MB", 2 ** 20], ["kB", 2 ** 10], ["bytes", 1]].find(([, one]) => bytes >= one) ?? ["bytes", 1];
  return `${(bytes / step).toFixed(bytes / step < 10 && step > 1 ? 1 : 0)} ${unit}`;
}

function showChosen() {
  const chosen = file.files[0];
  place.classList.toggle("chosen", Boolean(chosen));
  if (!chosen) return;
  form.elements.upload.value = form.elements.upload_name.value = "";
  words.replaceChildren(Object.assign(document.createElement("strong"), { textContent: chosen.name }), ` (${sizeInWords(chosen.size)})`);
}

async function takeSheet(chosen) {
  if (chosen) sheet.value = await chosen.text();
}

function isSheet(chosen) {
  return /\.(toml|txt)$/i.test(chosen.name);
}

for (const name of ["dragenter", "dragover"]) {
  form.addEventListener(name, (event) => {
    event.preventDefault();
    place.classList.add("over");
  });
}
form.addEventListener("dragleave", (event) => {
  if (!form.contains(event.relatedTarget)) place.classList.remove("over");
});
form.addEventListener("drop", (event) => {
  event.preventDefault();
  place.classList.remove("over");
  const dropped = [...event.dataTransfer.files];
  takeSheet(dropped.find(isSheet));
  const recording = dropped.find((one) => !isSheet(one));
  if (!recording) return;
  const one = new DataTransfer();
  one.items.add(recording);
  file.files = one.files;
  showChosen();
});
file.addEventListener("change", showChosen);
form.elements.sheet_file.addEventListener("change", async () => {
  const [chosen] = form.elements.sheet_file.files;
  // A file that is far too long to be a sheet goes as it is, to be refused with its size.
  if (!chosen || chosen.size > 400000) return;
  await takeSheet(chosen);
  form.elements.sheet_file.value = "";
});
const example = form.querySelector("[data-example]");
example.hidden = false;
example.addEventListener("click", () => {
  sheet.value = document.getElementById("example-sheet").content.textContent;
  sheet.focus();
});

async function asked(address, options) {
  const headers = { "X-CSRFToken": form.elements.csrfmiddlewaretoken.value };
  const answer = await fetch(address, { ...options, headers });
  if (answer.ok) return answer.json();
  const isSentence = answer.headers.get("Content-Type")?.startsWith("text/plain");
  throw new Error(isSentence ? await answer.text() : `The program could not take it in (answer ${answer.status}).`);
}

async function send(chosen) {
  const bar = sending.querySelector("progress");
  const { upload, piece } = await asked(form.dataset.uploads, {
    method: "POST",
    body: new URLSearchParams({ name: chosen.name, size: chosen.size }),
  });
  let done = 0;
  while (done < chosen.size) {
    const address = `${form.dataset.uploads}${upload}/?start=${done}`;
    ({ size: done } = await asked(address, { method: "PUT", body: chosen.slice(done, done + piece) }));
    bar.value = (100 * done) / chosen.size;
    sending.querySelector("[data-sending-words]").textContent = `Sent ${sizeInWords(done)} of ${sizeInWords(chosen.size)}`;
  }
  form.elements.upload.value = upload;
  form.elements.upload_name.value = chosen.name;
}

function refuse(sentence) {
  const said = document.getElementById(`words-${file.id}`);
  const wrong = Object.assign(document.createElement("p"), { className: "wrong", id: `${file.id}_error`, textContent: sentence });
  said.replaceChildren(wrong);
  sending.hidden = true;
}

form.addEventListener("submit", async (event) => {
  const [chosen] = file.files;
  if (sent || !chosen) return;
  event.preventDefault();
  if (!sending.hidden) return;
  sending.hidden = false;
  try {
    await send(chosen);
  } catch (trouble) {
    refuse(trouble instanceof TypeError ? "The program does not answer; start it again and send the recording once more." : trouble.message);
    return;
  }
  // The form goes on without the file: its pieces are there already.
  file.disabled = true;
  sent = true;
  form.requestSubmit();
});
window.addEventListener("pageshow", () => {
  sent = false;
  file.disabled = false;
  sending.hidden = true;
  showChosen();
});
