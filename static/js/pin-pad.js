// Big keys for a PIN. Without this the field takes the tablet's own keyboard.
for (const pad of document.querySelectorAll("[data-pin-pad]")) {
  const field = document.getElementById(pad.dataset.pinPad);
  const key = (label, name, press) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.setAttribute("aria-label", name);
    button.addEventListener("click", () => {
      press();
      field.focus({ preventScroll: true });
    });
    pad.append(button);
  };
  for (const digit of "123456789") key(digit, digit, () => { field.value += digit; });
  key("⌫", said("deleteDigit", "Delete the last digit"), () => { field.value = field.value.slice(0, -1); });
  key("0", "0", () => { field.value += "0"; });
  key("C", said("clear", "Clear"), () => { field.value = ""; });
  pad.hidden = false;
}
