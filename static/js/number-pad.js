// Big keys for numbers, for gloves: they come up when a number field is touched. A keyboard or a mouse gets none.
(() => {
  const pad = document.createElement("div");
  pad.className = "number-pad";
  pad.hidden = true;
  pad.setAttribute("role", "group");
  pad.setAttribute("aria-label", said("numberKeys", "Number keys"));
  let field = null;
  const wanted = (element) => element?.matches?.("input[inputmode=decimal], input[data-pad-off]");
  const changed = () => field.dispatchEvent(new Event("input", { bubbles: true }));
  const put = (text) => {
    const from = field.selectionStart ?? field.value.length;
    const to = field.selectionEnd ?? from;
    field.setRangeText(text, from, to, "end");
    changed();
  };
  const back = () => {
    const from = field.selectionStart ?? field.value.length;
    const to = field.selectionEnd ?? from;
    if (from !== to) field.setRangeText("", from, to, "end");
    else if (from > 0) field.setRangeText("", from - 1, from, "end");
    changed();
  };
  const next = () => {
    const all = [...document.querySelectorAll("input[inputmode=decimal], input[data-pad-off]")].filter((one) => one.offsetParent);
    const following = all[all.indexOf(field) + 1];
    if (following) open(following);
    else close();
  };
  const close = () => {
    if (field) {
      field.inputMode = "decimal";
      delete field.dataset.padOff;
    }
    field = null;
    pad.hidden = true;
    document.body.classList.remove("has-number-pad");
  };
  const open = (one) => {
    if (field && field !== one) {
      field.inputMode = "decimal";
      delete field.dataset.padOff;
    }
    field = one;
    // The tablet's own keyboard stays away while these keys are there.
    field.dataset.padOff = "";
    field.inputMode = "none";
    pad.hidden = false;
    document.body.classList.add("has-number-pad");
    field.focus({ preventScroll: true });
    field.scrollIntoView({ block: "nearest" });
  };
  const key = (label, name, press) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.setAttribute("aria-label", name);
    button.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the focus
    button.addEventListener("click", press);
    pad.append(button);
  };
  for (const digit of "123") key(digit, digit, () => put(digit));
  key("⌫", said("deleteOne", "Delete"), back);
  for (const digit of "456") key(digit, digit, () => put(digit));
  key(said("next", "Next"), said("nextField", "Next field"), next);
  for (const digit of "789") key(digit, digit, () => put(digit));
  key(said("close", "Close"), said("closeKeys", "Close the keys"), close);
  key("−", said("minus", "Minus"), () => put("-"));
  key("0", "0", () => put("0"));
  const point = said("point", ".");
  key(point, said("decimalPoint", "Decimal point"), () => put(point));
  key(said("clear", "Clear"), said("clearField", "Clear the field"), () => {
    field.value = "";
    changed();
  });
  document.body.append(pad);
  document.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse") return;
    if (wanted(event.target)) open(event.target);
    else if (!pad.contains(event.target)) close();
  });
  document.addEventListener("focusin", (event) => {
    if (field && event.target !== field && !pad.contains(event.target)) close();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && field) close();
  });
})();
