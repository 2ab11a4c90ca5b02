// What every page does: says when the server could not be reached, keeps typed forms, and tells sign-up the time zone.

import { keepForms, keepFragment } from "./drafts.js";

const notice = document.querySelector("#notice");

function tell(text) {
  const box = document.createElement("div");
  box.className = "notice notice--error";
  box.setAttribute("role", "alert");
  const line = document.createElement("p");
  line.textContent = text;
  box.append(line);
  notice.replaceChildren(box);
  notice.scrollIntoView({ block: "nearest" });
}

document.body.addEventListener("htmx:sendError", () =>
  tell("The server could not be reached. What you typed is still here; try again in a moment."),
);
function refusal(status) {
  if (status >= 500) return "Something went wrong on the server. What you typed is still here; try again in a moment.";
  if (status === 400 || status === 413) return "That is too much to send at once. What you typed is still here; send a part of it.";
  return "That is no longer here, or you may not change it. What you typed is still on this page.";
}

document.body.addEventListener("htmx:responseError", (event) => tell(refusal(event.detail.xhr.status)));

// Signing in again in another tab changes the token that proves a form comes from this site;
// the page that waited with typed text must send the new one.
document.body.addEventListener("htmx:configRequest", (event) => {
  const token = document.cookie.match(/(?:^|; )csrftoken=([^;]+)/)?.[1];
  if (!token) return;
  event.detail.headers["X-CSRFToken"] = token;
  if (event.detail.parameters.csrfmiddlewaretoken) event.detail.parameters.csrfmiddlewaretoken = token;
});
document.body.addEventListener("htmx:load", (event) => keepFragment(event.detail.elt));

for (const input of document.querySelectorAll("input[data-time-zone]")) {
  input.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
}

// Only once every module of the page has run: a page that builds its rows listens by then.
document.addEventListener("DOMContentLoaded", () => keepForms(document));
