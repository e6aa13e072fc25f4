// The screen stays on while a step is being worked on, where the browser allows it; it does on https only. Elsewhere, and
// when the tablet saves its battery, it sleeps as ever.
(() => {
  const lasts = document.querySelector("[data-awake]");
  if (!lasts || !navigator.wakeLock) return;
  // The browser lets go by itself when the page is left or hidden.
  const ask = () => {
    if (document.visibilityState === "visible") navigator.wakeLock.request("screen").catch(() => {});
  };
  document.addEventListener("visibilitychange", ask);
  ask();
})();
