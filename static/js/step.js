// A reading out of its limits is marked while it is typed; the server decides all the same.
for (const field of document.querySelectorAll("input[data-low], input[data-high]")) {
  const look = () => {
    const value = Number.parseFloat(field.value.replace(",", "."));
    const low = Number.parseFloat(field.dataset.low);
    const high = Number.parseFloat(field.dataset.high);
    const out = !Number.isNaN(value) && (value < low || value > high);
    field.classList.toggle("is-out", out);
    field.setAttribute("aria-invalid", String(out));
  };
  field.addEventListener("input", look);
  look();
}
const error = document.getElementById("error");
if (error) error.focus();
