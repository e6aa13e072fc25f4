// A small question under a button closes by Escape, or when something else is pressed; what is wrong in a form is shown first.
// What somebody opened stays open when the part of the page around it is renewed.
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
  let opened = [];
  document.addEventListener("htmx:beforeSwap", (event) => {
    opened = [...event.detail.target.querySelectorAll("details[id][open]")].map((details) => details.id);
  });
  document.addEventListener("htmx:afterSwap", () => {
    for (const id of opened) document.getElementById(id)?.setAttribute("open", "");
    opened = [];
  });
  document.querySelector("[aria-invalid=true]")?.focus();
})();
