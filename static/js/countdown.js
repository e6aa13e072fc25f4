// Beside the end of a dwell: how long it still is; of a glue batch only that. The page says the time itself without this.
(() => {
  const words = (seconds) => {
    const minutes = Math.ceil(seconds / 60);
    if (minutes < 60) return `${minutes} min`;
    const hours = Math.floor(minutes / 60);
    if (hours < 48) return `${hours} h ${minutes % 60} min`;
    return `${Math.floor(hours / 24)} d ${hours % 24} h`;
  };
  const tick = () => {
    for (const time of document.querySelectorAll("time[data-countdown]")) {
      const left = (Date.parse(time.dateTime) - Date.now()) / 1000;
      let beside = time.nextElementSibling;
      if (!beside || !beside.classList.contains("countdown")) {
        beside = document.createElement("span");
        beside.className = "countdown";
        time.after(beside);
      }
      beside.textContent = left > 0 ? ` (${words(left)})` : ` (${said("over", "over")})`;
    }
    for (const time of document.querySelectorAll("time[data-left]")) {
      const left = Date.parse(time.dateTime) - Date.now();
      time.textContent = left > 0 ? said("left", "{time} left", { time: words(left / 1000) }) : said("tooOld", "too old, don't use");
    }
  };
  tick();
  setInterval(tick, 15000);
  for (const renewed of ["htmx:afterSwap", "floor:renewed"]) document.addEventListener(renewed, tick);
})();
