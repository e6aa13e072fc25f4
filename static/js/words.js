// What the scripts say: in English here, in the language of the tablet where its page brings the words (#words).
const said = (name, english, values = {}) => {
  const words = document.getElementById("words")?.dataset[name] ?? english;
  return words.replace(/\{(\w+)\}/g, (_, key) => values[key] ?? "");
};
