// Packing piece by piece: each code goes to the house, and what it says is seen, heard and read out; a wrong one stays out.

const form = document.querySelector("[data-pack-scan]");
const input = form?.elements.code;
const wrong = document.querySelector("[data-pack-wrong]");
const said = document.querySelector("[data-pack-said]");
const inside = document.querySelector("[data-pack-inside]");
let context = null;

// A low buzz twice for a wrong piece, one short high tone for a right one.
const sound = (tones, hertz) => {
  if (context?.state !== "running") return;
  for (let number = 0; number < tones; number += 1) {
    const at = context.currentTime + number * 0.3;
    const tone = context.createOscillator();
    const loudness = context.createGain();
    tone.type = tones > 1 ? "square" : "sine";
    tone.frequency.value = hertz;
    loudness.gain.setValueAtTime(0.0001, at);
    loudness.gain.exponentialRampToValueAtTime(0.4, at + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.0001, at + 0.25);
    tone.connect(loudness).connect(context.destination);
    tone.start(at);
    tone.stop(at + 0.27);
  }
};

const refuse = (words) => {
  wrong.textContent = words;
  input.setAttribute("aria-invalid", "true");
  sound(2, 160);
  navigator.vibrate?.([200, 100, 200]);
};

const put = async () => {
  const data = new FormData(form);
  wrong.textContent = "";
  try {
    const response = await fetch(form.action, { method: "POST", body: data, headers: { "HX-Request": "true" }, credentials: "same-origin" });
    if (response.redirected) throw new Error("signed out");
    const answer = await response.json();
    if (response.status === 422) {
      refuse(answer.wrong);
    } else if (response.ok && answer.go) {
      sound(1, 1050);
      location.assign(answer.go);
      return;
    } else if (response.ok) {
      inside.innerHTML = answer.inside;
      form.elements.key.value = answer.key;
      input.removeAttribute("aria-invalid");
      said.textContent = answer.said;
      sound(1, 880);
    } else {
      throw new Error(String(response.status));
    }
    input.value = "";
  } catch {
    refuse("Not put in: the house does not answer. Scan it again.");
  }
  input.focus();
};

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  try {
    context ??= new AudioContext();
    await Promise.race([context.resume(), new Promise((done) => setTimeout(done, 200))]);
  } catch {
    context = null;
  }
  await put();
});

// The camera comes back with a code in the address: it goes in once, and not again when the page is loaded anew.
if (form && new URLSearchParams(location.search).get("code")) {
  history.replaceState(null, "", location.pathname);
  form.requestSubmit();
}
