// How long a shell waits goes on counting between two refreshes of the queue.
(() => {
  const words = (minutes) => {
    if (minutes < 60) return `${minutes} min`;
    const hours = Math.floor(minutes / 60);
    return hours < 48 ? `${hours} h` : `${Math.floor(hours / 24)} d`;
  };
  const tick = () => {
    for (const time of document.querySelectorAll("time[data-age]")) {
      const minutes = Math.floor((Date.now() - Date.parse(time.dateTime)) / 60000);
      if (minutes >= 0) time.textContent = words(minutes);
    }
  };
  setInterval(tick, 15000);
})();

// The queue renews itself: it asks every 15 s and is told what is new, or nothing. The page is not moved, and whoever
// stands on a row by keyboard stays there.
(() => {
  const EVERY_MS = 15000;
  let asking = false;
  const tell = (what) => document.dispatchEvent(new CustomEvent("floor:link", { detail: what }));
  const renew = async (address) => {
    const old = document.getElementById("live");
    if (!old || asking || document.documentElement.dataset.keptAt) return;
    asking = true;
    try {
      const answer = await fetch(address ?? old.dataset.live, { headers: { "HX-Request": "true" }, cache: "no-store" });
      tell(answer.status < 502);
      if (answer.headers.has("HX-Redirect")) location.assign(answer.headers.get("HX-Redirect"));
      else if (answer.headers.has("HX-Refresh")) location.reload();
      else if (answer.status === 200) put(await answer.text());
    } catch {
      tell(false);
    } finally {
      asking = false;
    }
  };
  const put = (html) => {
    const page = new DOMParser().parseFromString(html, "text/html");
    const fresh = page.getElementById("live");
    // A whole page that the tablet kept is no news.
    if (!fresh || page.documentElement.dataset.keptAt) {
      tell(false);
      return;
    }
    const held = document.activeElement?.id;
    document.getElementById("live").replaceWith(document.adoptNode(fresh));
    if (held) document.getElementById(held)?.focus({ preventScroll: true });
    document.dispatchEvent(new Event("floor:renewed"));
  };
  document.addEventListener("floor:renew", (event) => renew(event.detail));
  setInterval(() => renew(), EVERY_MS);
})();
