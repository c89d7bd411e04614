// Scanning with the camera: a still of what it sees goes to the house twice a second until a code is read in it.

const form = document.querySelector("[data-scan]");
const starts = document.querySelector("[data-camera]");
const view = form?.querySelector("[data-camera-view]");
const video = view?.querySelector("video");
const words = view?.querySelector("[data-camera-words]");
const LOOK_MS = 500;
const SIDE = 1000;
let stream = null;

const stop = () => {
  for (const track of stream?.getTracks() ?? []) track.stop();
  stream = null;
  view.hidden = true;
  starts.hidden = false;
};

const still = () => {
  const canvas = document.createElement("canvas");
  const scale = Math.min(1, SIDE / Math.max(video.videoWidth, video.videoHeight));
  canvas.width = Math.round(video.videoWidth * scale);
  canvas.height = Math.round(video.videoHeight * scale);
  canvas.getContext("2d").drawImage(video, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
};

const look = async () => {
  if (!stream) return;
  if (video.videoWidth) {
    const data = new FormData(form);
    data.set("picture", await still(), "still.jpg");
    const response = await fetch(form.action, { method: "POST", body: data, headers: { "HX-Request": "true" }, credentials: "same-origin" }).catch(() => null);
    if (!stream) return;
    if (response?.ok && !response.redirected) {
      const { code } = await response.json();
      stop();
      location.assign(`${data.get("next")}?code=${encodeURIComponent(code)}`);
      return;
    }
    words.textContent = response ? "Hold a code before the camera." : "No connection to the house.";
  }
  setTimeout(look, LOOK_MS);
};

// Browsers give the camera to pages over HTTPS only; elsewhere a photo does.
if (form && starts && navigator.mediaDevices?.getUserMedia) {
  starts.hidden = false;
  starts.addEventListener("click", async () => {
    starts.hidden = true;
    view.hidden = false;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      await video.play();
      look();
    } catch {
      stop();
      view.hidden = false;
      words.textContent = "The camera was not given. Allow it for this page, or take a photo of the code.";
    }
  });
  view.querySelector("[data-camera-stop]").addEventListener("click", stop);
}

form?.addEventListener("change", (event) => {
  if (event.target.matches("[data-sends]") && event.target.files.length) form.requestSubmit();
});
