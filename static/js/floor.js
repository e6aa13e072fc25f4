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
