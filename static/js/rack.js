// Choosing a whole kit, or everything, without leaving the page; the button counts what is chosen.
(() => {
  const form = document.querySelector(".rack-choose");
  if (!form) return;
  const boxes = () => [...form.querySelectorAll("input[name=shell]")];
  const count = () => {
    const chosen = boxes().filter((box) => box.checked).length;
    form.querySelector("[data-count]").textContent = chosen ? `(${chosen})` : "";
  };
  const toggle = (some) => {
    const all = some.every((box) => box.checked);
    for (const box of some) box.checked = !all;
    count();
  };
  form.addEventListener("change", count);
  form.addEventListener("click", (event) => {
    const link = event.target.closest("[data-choose-all], [data-choose-every]");
    if (!link) return;
    event.preventDefault();
    toggle(link.matches("[data-choose-every]") ? boxes() : [...link.closest("fieldset").querySelectorAll("input")]);
  });
  form.querySelector("[data-choose-every]").hidden = false;
  count();
})();
