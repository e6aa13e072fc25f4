// A second press on a button that was pressed just now sends nothing. The server would recognise most repeats; the
// person at the screen should not have to wonder.
(() => {
  const PATIENCE_MS = 4000;
  const sent = new WeakMap();
  document.addEventListener("submit", (event) => {
    if (event.target.method !== "post") return;
    if (Date.now() - (sent.get(event.target) ?? 0) < PATIENCE_MS) {
      event.preventDefault();
      return;
    }
    sent.set(event.target, Date.now());
    const button = event.submitter;
    if (!button) return;
    button.setAttribute("aria-busy", "true");
    setTimeout(() => button.removeAttribute("aria-busy"), PATIENCE_MS);
  });
  // Back to a page that the browser kept: its forms may be sent again.
  window.addEventListener("pageshow", () => {
    for (const button of document.querySelectorAll("[aria-busy]")) button.removeAttribute("aria-busy");
  });
})();
