// A hand scanner types like a very fast keyboard and ends with Enter. Outside a field its code goes to the page's
// search for serial numbers (form[data-scan]); people who type are slower and are left alone.
(() => {
  const FASTEST_HAND_MS = 50;
  const SHORTEST_CODE = 6;
  const form = document.querySelector("form[data-scan]");
  const field = form?.querySelector("input[name=q]");
  if (!field) return;
  let typed = "";
  let last = 0;
  document.addEventListener("keydown", (event) => {
    if (event.target.closest("input, select, textarea") || event.ctrlKey || event.metaKey || event.altKey) return;
    const now = event.timeStamp; // when the key came, however busy the page is
    if (now - last > FASTEST_HAND_MS) typed = "";
    last = now;
    if (event.key === "Enter" && typed.length >= SHORTEST_CODE) {
      event.preventDefault();
      field.value = typed;
      typed = "";
      form.requestSubmit();
    } else if (event.key.length === 1) {
      typed += event.key;
    }
  });
})();
