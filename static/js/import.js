// A draft kept while good and bad lines stood apart opens as one table again.
document.addEventListener("drafts:restore", (event) => {
  const form = event.target;
  if (!form.matches("#survey-import") || form.querySelector("[name=bad]")) return;
  const kept = new Map(event.detail);
  const text = event.detail.find(([name]) => name === "text");
  if (text && kept.get("bad")) text[1] = [text[1], kept.get("bad")].filter(Boolean).join("\n");
});
