// A photo is made small on the tablet, so that it is sent quickly and many fit while the link is down.
(() => {
  const LONGEST_PX = 1600;
  const small = async (file) => {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST_PX / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.82));
    return new File([blob], "photo.jpg", { type: "image/jpeg" });
  };
  document.addEventListener("change", async (event) => {
    const field = event.target;
    if (!field.matches?.("input[type=file][data-photo]") || !field.files.length || field.files[0].name === "photo.jpg") return;
    const words = field.closest(".photo")?.querySelector(".photo-name");
    try {
      const file = await small(field.files[0]);
      const files = new DataTransfer();
      files.items.add(file);
      field.files = files.files;
      if (words) words.textContent = said("photoTaken", "Photo taken, {size} kB", { size: Math.round(file.size / 1024) });
    } catch {
      if (words) words.textContent = said("noPhoto", "This file is no photo that can be read.");
    }
  });
})();
