// Scanning with the tablet's own camera, where the browser can read codes; elsewhere the button stays away.
(() => {
  const form = document.querySelector("form[data-scan]");
  const field = form?.querySelector("input[name=q]");
  if (!field || !("BarcodeDetector" in window) || !navigator.mediaDevices?.getUserMedia) return;
  const LOOK_EVERY_MS = 150;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button";
  button.textContent = said("camera", "Camera");
  form.append(button);
  const dialog = document.createElement("dialog");
  dialog.className = "camera";
  const video = document.createElement("video");
  video.playsInline = true;
  video.muted = true;
  const words = document.createElement("p");
  const close = document.createElement("button");
  close.type = "button";
  close.className = "button wide";
  close.textContent = said("closeCamera", "Close the camera");
  dialog.append(video, words, close);
  document.body.append(dialog);
  let stream = null;
  const stop = () => {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
  };
  close.addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", stop);
  const look = async (detector) => {
    if (!stream) return;
    const [code] = await detector.detect(video).catch(() => []);
    if (code) {
      field.value = code.rawValue;
      dialog.close();
      form.requestSubmit();
      return;
    }
    setTimeout(() => look(detector), LOOK_EVERY_MS);
  };
  button.addEventListener("click", async () => {
    words.textContent = said("holdCode", "Hold the code of the traveler before the camera.");
    dialog.showModal();
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      video.play().catch(() => {}); // closing the dialog may be quicker
      look(new BarcodeDetector({ formats: ["qr_code"] }));
    } catch {
      words.textContent = said("noCamera", "The camera can't be used. Allow it in the browser's settings, or type the serial number.");
    }
  });
})();
