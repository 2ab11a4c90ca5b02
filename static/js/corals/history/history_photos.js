// Photos are sent one by one, so that thirty of them fit a phone's line: one that fails is named and
// tried again, and takes no other along. Without this module the form sends them all at once.

const TRIES = 4;
const WAIT_MS = 1500;
const BUSY = 503;

const form = document.querySelector("#photos-send");
const input = form.querySelector("[name=photos]");
const button = form.querySelector("button[type=submit]");
const part = document.querySelector("#photos-progress");
const bar = part.querySelector("progress");
const status = part.querySelector("span");
const list = part.querySelector("ul");

form.querySelector("[data-without-script]")?.remove();

const pause = (ms) => new Promise((done) => setTimeout(done, ms));

function row(file) {
  const line = document.createElement("li");
  const name = document.createElement("strong");
  name.textContent = file.name;
  const words = document.createElement("span");
  words.textContent = "waits";
  line.append(name, " ", words);
  list.append(line);
  return { line, words };
}

async function sendOnce(file) {
  const body = new FormData();
  body.append("csrfmiddlewaretoken", form.elements.csrfmiddlewaretoken.value);
  body.append("one", "1");
  body.append("photos", file, file.name);
  const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "error" });
  const isOurs = answer.headers.get("Content-Type")?.startsWith("application/json");
  const { problem } = isOurs ? await answer.json() : { problem: "The server could not take it. Send it once more." };
  return { ok: answer.ok && isOurs, busy: answer.status === BUSY, problem };
}

// Returns what is wrong in the end, "" for nothing.
async function send(file, words) {
  let problem = "";
  for (let tries = 0; tries < TRIES; tries += 1) {
    words.textContent = tries ? "is sent once more …" : "is sent …";
    try {
      const answer = await sendOnce(file);
      if (answer.ok) return "";
      problem = answer.problem;
      if (!answer.busy) return problem;
    } catch {
      problem = "The line was cut. Send it once more.";
    }
    await pause(WAIT_MS);
  }
  return problem;
}

async function sendAll(files) {
  part.hidden = false;
  list.replaceChildren();
  bar.max = files.length;
  const rows = files.map(row);
  const failed = [];
  for (const [at, file] of files.entries()) {
    status.textContent = `${at} of ${files.length} sent`;
    const { line, words } = rows[at];
    const problem = await send(file, words);
    words.textContent = problem || "is here";
    line.className = problem ? "photo-state--failed" : "photo-state--done";
    if (problem) failed.push(file);
    bar.value = at + 1;
  }
  return failed;
}

function showLeft(failed, count) {
  const sent = count - failed.length;
  status.textContent = `${sent} of ${count} are here, ${failed.length} not: each says why below.`;
  if (!sent) return;
  const link = document.createElement("a");
  link.href = form.action;
  link.textContent = "Show those that are here";
  status.append(" ", link);
}

form.addEventListener("submit", async (event) => {
  const files = [...input.files];
  if (!files.length) return;
  event.preventDefault();
  button.disabled = true;
  const failed = await sendAll(files);
  button.disabled = false;
  input.value = "";
  if (failed.length) showLeft(failed, files.length);
  else location.assign(form.action);
});
