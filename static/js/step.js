// A reading out of its limits is marked while it is typed; the server decides all the same.
{
  const number = (field) => Number.parseFloat(field.value.replace(",", "."));
  const mark = (field, out) => {
    field.classList.toggle("is-out", out);
    field.setAttribute("aria-invalid", String(out));
  };
  for (const field of document.querySelectorAll("input[data-low], input[data-high]")) {
    const look = () => {
      const value = number(field);
      mark(field, value < Number.parseFloat(field.dataset.low) || value > Number.parseFloat(field.dataset.high));
    };
    field.addEventListener("input", look);
    look();
  }
  // Several readings of which only the spread counts: all are marked when it is too large.
  for (const group of document.querySelectorAll("[data-spread-high]")) {
    const fields = [...group.querySelectorAll("input")];
    const look = () => {
      const values = fields.map(number).filter((value) => !Number.isNaN(value));
      const spread = values.length > 1 ? Math.max(...values) - Math.min(...values) : 0;
      for (const field of fields) mark(field, spread > Number.parseFloat(group.dataset.spreadHigh) + 1e-9);
      group.querySelector(".spread").textContent = values.length > 1 ? `${said("spread", "spread")} ${String(Number(spread.toFixed(2))).replace(".", said("point", "."))}` : "";
    };
    group.addEventListener("input", look);
    look();
  }
  // Out of limits the button to sign gives way to the one that holds the shell.
  const hold = document.querySelector("[data-out-of-limits]");
  const within = document.querySelector("[data-within-limits]");
  if (hold && within) {
    const form = hold.closest("form");
    const look = () => {
      const out = form.querySelector("input.is-out, .choice input[value=no]:checked") !== null;
      hold.hidden = !out;
      within.hidden = out;
    };
    form.addEventListener("input", look);
    form.addEventListener("change", look);
    if (hold.hidden) look();
  }
  document.getElementById("error")?.focus();
}
