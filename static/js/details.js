// A small question under a button closes by Escape, or when something else is pressed; what is wrong in a form is shown first.
(() => {
  const open = () => document.querySelectorAll("details.inline[open]");
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    for (const details of open()) {
      details.open = false;
      details.querySelector("summary").focus();
    }
  });
  document.addEventListener("click", (event) => {
    for (const details of open()) if (!details.contains(event.target)) details.open = false;
  });
  document.querySelector("[aria-invalid=true]")?.focus();
})();
