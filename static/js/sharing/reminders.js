// Shows reminders in this browser: asks for leave only when the button is pressed.

const form = document.querySelector("#push-add");
const said = document.querySelector("#push-said");
const REFUSED = "Notifications are blocked for this site. Allow them in your browser’s settings, then come back.";
const CLOSED = "Not turned on. Tap again and choose Allow.";

async function known() {
  const worker = await navigator.serviceWorker.getRegistration();
  return worker?.pushManager.getSubscription();
}

async function subscribed() {
  await navigator.serviceWorker.register(form.dataset.worker);
  const worker = await navigator.serviceWorker.ready;
  // One of before may be of another keeper, or made with another key of this site.
  await (await worker.pushManager.getSubscription())?.unsubscribe();
  return worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: form.dataset.key });
}

async function add() {
  const leave = await Notification.requestPermission();
  if (leave !== "granted") {
    said.textContent = leave === "denied" ? REFUSED : CLOSED;
    return;
  }
  said.textContent = "One moment…";
  try {
    const { endpoint, keys } = (await subscribed()).toJSON();
    form.elements.endpoint.value = endpoint;
    form.elements.key.value = keys.p256dh;
    form.elements.secret.value = keys.auth;
    form.submit();
  } catch {
    said.textContent = "Your browser’s push service did not answer. Try again later.";
  }
}

async function start() {
  if (!navigator.serviceWorker || !window.PushManager || !window.Notification) return;
  said.textContent = Notification.permission === "denied" ? REFUSED : "";
  const endpoint = (await known())?.endpoint;
  const rows = [...document.querySelectorAll("#push-browsers [data-ends]")];
  const own = rows.find((row) => endpoint?.endsWith(row.dataset.ends));
  own?.querySelector("[data-this]").removeAttribute("hidden");
  form.hidden = Boolean(own) || Notification.permission === "denied";
  form.querySelector("button").addEventListener("click", add);
}

start();
