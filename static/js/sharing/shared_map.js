// A shared light map redraws itself by a few lines instead of a library: visitors come once, by a phone.

import { settled } from "../lightmap/page/light_map.js";

const notice = document.querySelector("#notice");
// Only the answer to the last wish counts.
let wishes = 0;

function say(text) {
  const line = document.createElement("p");
  line.className = "notice notice--error";
  line.setAttribute("role", "alert");
  line.textContent = text;
  notice.replaceChildren(...(text ? [line] : []));
}

// The parts of an answer take the places of those of the same id.
function swap(html) {
  const parts = [...new DOMParser().parseFromString(html, "text/html").body.children];
  for (const part of parts) {
    if (part.id) document.getElementById(part.id)?.replaceWith(document.adoptNode(part));
  }
  for (const part of parts) settled(part.id);
}

async function redraw(form) {
  const wish = (wishes += 1);
  const query = new URLSearchParams(new FormData(form));
  try {
    const answer = await fetch(`${location.pathname}?${query}`, { headers: { "HX-Request": "true" } });
    const html = await answer.text();
    if (wish !== wishes) return;
    if (!answer.ok) throw new Error(answer.status);
    swap(html);
    const address = answer.headers.get("HX-Replace-Url");
    if (address) history.replaceState(null, "", address);
    say("");
  } catch {
    if (wish === wishes) say("The map could not be redrawn. Check your connection and try again.");
  }
}

document.addEventListener("redraw", (event) => redraw(event.target));

// A comment is on the point read last.
document.addEventListener("pointread", ({ detail }) => {
  for (const [name, shown] of Object.entries(detail)) {
    const typed = document.querySelector(`#id_comment-${name}_cm`);
    if (typed) typed.value = shown;
  }
});
