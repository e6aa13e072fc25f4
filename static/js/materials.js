// A scanner ends a code with Enter. In the field of a lot that must not sign the step: it only goes to the next field.
// Until this listens, Enter presses a button that does nothing.
for (const button of document.querySelectorAll("[data-enter-waits]")) button.remove();
// A typed code counts instead of what is chosen beside it, so the choice is greyed out meanwhile.
for (const code of document.querySelectorAll("input[data-code]")) {
  const choice = code.parentElement.querySelector("select");
  const look = () => {
    if (choice) choice.disabled = code.value.trim() !== "";
  };
  code.addEventListener("input", look);
  look();
  code.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    const all = [...code.form.querySelectorAll("input[data-code]")];
    const next = all[all.indexOf(code) + 1];
    if (next) next.focus();
    else code.blur();
  });
}
