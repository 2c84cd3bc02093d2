// Which release this is, and that the page is kept on the phone so that it opens without a network.

import { button, el } from "./dom.js";

/** Keep the page itself on the phone, where the browser can; tell once a newer one is there. */
export async function keepOnPhone() {
  const line = document.getElementById("release");
  const release = document.querySelector("meta[name=release]").content;
  line.textContent = `Headbench ${release}`;
  if (!("serviceWorker" in navigator)) {
    line.append(". Opened without HTTPS: readings stay on this phone, but the page itself needs the network to open.");
    return;
  }
  let kept;
  try {
    kept = await navigator.serviceWorker.register("/bench/worker.js", { scope: "/bench", updateViaCache: "none" });
  } catch {
    line.append(". This browser does not keep the page: it needs the network to open.");
    return;
  }
  const offer = (worker) => {
    if (!navigator.serviceWorker.controller) return;
    line.append(el("span", {}, ". A newer one is here: "), button("Take it", () => worker.postMessage("take over")));
  };
  if (kept.waiting) offer(kept.waiting);
  kept.addEventListener("updatefound", () => {
    const worker = kept.installing;
    worker.addEventListener("statechange", () => worker.state === "installed" && offer(worker));
  });
  let isReloading = false;
  const hadOne = Boolean(navigator.serviceWorker.controller);
  navigator.serviceWorker.addEventListener("controllerchange", () => {
    if (!hadOne || isReloading) return;
    isReloading = true;
    location.reload();
  });
}
