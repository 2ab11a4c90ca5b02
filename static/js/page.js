// What every page does: says when the server could not be reached, keeps typed forms, and tells sign-up the time zone.

import { keepForms } from "./drafts.js";

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
document.body.addEventListener("htmx:responseError", (event) =>
  tell(
    event.detail.xhr.status >= 500
      ? "Something went wrong on the server. What you typed is still here; try again in a moment."
      : "That is no longer here, or you may not change it.",
  ),
);

for (const input of document.querySelectorAll("input[data-time-zone]")) {
  input.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
}

keepForms(document);
