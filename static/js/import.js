const TABLE_FORMS = "#survey-import, #water-import";

// A draft kept while good and bad lines stood apart opens as one table again.
document.addEventListener("drafts:restore", (event) => {
  const form = event.target;
  if (!form.matches(TABLE_FORMS) || form.querySelector("[name=bad]")) return;
  const kept = new Map(event.detail);
  const text = event.detail.find(([name]) => name === "text");
  if (text && kept.get("bad")) text[1] = [text[1], kept.get("bad")].filter(Boolean).join("\n");
});

// How far a long table is: sent so far, then read and checked by the server.
function progress(form, share, words) {
  const line = form.querySelector(".import-progress");
  if (!line) return;
  line.hidden = false;
  const bar = line.querySelector("progress");
  if (share === null) bar.removeAttribute("value");
  else bar.value = share;
  line.querySelector("span").textContent = words;
}

document.body.addEventListener("htmx:xhr:progress", (event) => {
  const form = event.target.closest?.(TABLE_FORMS);
  if (!form || !event.detail.lengthComputable) return;
  const { loaded, total } = event.detail;
  if (loaded < total) progress(form, Math.round((100 * loaded) / total), "Sending the table …");
  else progress(form, null, "Reading and checking each line …");
});

document.body.addEventListener("htmx:afterRequest", (event) => {
  const line = event.target.querySelector?.(".import-progress");
  if (line) line.hidden = true;
});
