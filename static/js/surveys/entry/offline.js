// What the pages beside the tank share: they start without a network, and the screen stays on.

/** Keep the page's shell and files on this device; resolves once it opens without a network. */
export async function startWithoutNetworkFromNowOn() {
  if (!navigator.serviceWorker) return false;
  await navigator.serviceWorker.register(document.body.querySelector("[data-worker]").dataset.worker);
  await navigator.serviceWorker.ready;
  document.documentElement.dataset.offlineReady = "";
  return true;
}

async function hold() {
  if (document.hidden || !navigator.wakeLock) return;
  // A battery saver may refuse; the page works all the same.
  await navigator.wakeLock.request("screen").catch(() => {});
}

/** Ask the device to keep what is stored, and the screen on while the page is looked at. */
export function stayBesideTheTank() {
  navigator.storage?.persist?.();
  hold();
  document.addEventListener("visibilitychange", hold);
}
