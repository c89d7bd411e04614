// Holds count down while the page is open, and sound at their end once somebody has turned the sound on. What is planned
// next says how far off it is.

const TICK_MS = 1000;
const STRIKES = 3;
const RINGS = 4;
const RING_AGAIN_MS = 15000;
const IN_TIME_MINUTES = 5;
const WANTED = "sound-wanted";

const title = document.title;
const rung = new Map();
let context = null;

const two = (number) => String(number).padStart(2, "0");

const span = (milliseconds) => {
  const seconds = Math.max(0, Math.ceil(milliseconds / 1000));
  const hours = Math.floor(seconds / 3600);
  const minutes = Math.floor((seconds % 3600) / 60);
  return hours ? `${hours}:${two(minutes)}:${two(seconds % 60)}` : `${minutes}:${two(seconds % 60)}`;
};

const spoken = (minutes) => {
  const hours = Math.floor(minutes / 60);
  const rest = minutes % 60;
  if (!hours) return `${rest} min`;
  return rest ? `${hours} h ${rest} min` : `${hours} h`;
};

const clock = (moment) => `${two(moment.getHours())}:${two(moment.getMinutes())}`;

// Three strikes, as on a kitchen bell.
const strike = () => {
  if (context?.state !== "running") return;
  for (let number = 0; number < STRIKES; number += 1) {
    const at = context.currentTime + number * 0.45;
    const tone = context.createOscillator();
    const loudness = context.createGain();
    tone.frequency.value = 880;
    loudness.gain.setValueAtTime(0.0001, at);
    loudness.gain.exponentialRampToValueAtTime(0.5, at + 0.02);
    loudness.gain.exponentialRampToValueAtTime(0.0001, at + 0.4);
    tone.connect(loudness).connect(context.destination);
    tone.start(at);
    tone.stop(at + 0.42);
  }
};

const ring = (hold) => {
  const name = `${hold.dataset.hold} ${hold.dataset.ends}`;
  const rings = rung.get(name) ?? { count: 0, at: 0 };
  if (rings.count >= RINGS || Date.now() - rings.at < RING_AGAIN_MS) return;
  rung.set(name, { count: rings.count + 1, at: Date.now() });
  strike();
};

const tick = () => {
  const over = [];
  for (const hold of document.querySelectorAll("[data-hold]")) {
    const left = new Date(hold.dataset.ends) - Date.now();
    const words = left > 0 ? `${hold.dataset.technique}, ${span(left)} left` : `${hold.dataset.technique} over since ${clock(new Date(hold.dataset.ends))}`;
    const shown = hold.querySelector("[data-hold-words]");
    if (shown.textContent !== words) shown.textContent = words;
    hold.classList.toggle("hold-over", left <= 0);
    if (left > 0) continue;
    over.push(hold.dataset.hold);
    ring(hold);
  }
  document.title = over.length ? `Time is up: ${[...new Set(over)].join(", ")} · ${title}` : title;
  showSound();
  for (const due of document.querySelectorAll("[data-due]")) {
    const minutes = Math.floor((new Date(due.dataset.due) - Date.now()) / 60000);
    const away = minutes > 0 ? `in ${spoken(minutes)}` : `${spoken(-minutes)} ago`;
    const words = Math.abs(minutes) <= IN_TIME_MINUTES ? "now" : away;
    if (due.textContent !== words) due.textContent = words;
  }
};

const showSound = () => {
  const on = context?.state === "running";
  for (const sound of document.querySelectorAll("[data-sound]")) {
    if (sound.getAttribute("aria-pressed") === String(on)) continue;
    sound.setAttribute("aria-pressed", String(on));
    sound.querySelector("[data-sound-words]").textContent = on ? "Sound is on" : "Sound on";
  }
};

const soundOn = async () => {
  context ??= new AudioContext();
  await context.resume();
  showSound();
};

// The buttons are looked for at each touch, since the page puts fresh ones in their place.
document.addEventListener("click", async (event) => {
  if (!event.target.closest("[data-sound]")) return;
  if (context?.state === "running") {
    localStorage.removeItem(WANTED);
    await context.suspend();
    showSound();
    return;
  }
  localStorage.setItem(WANTED, "1");
  await soundOn();
  strike();
});

// Browsers let a page sound only after a touch; who wanted the sound gets it back with the first one, wherever it is.
document.addEventListener("pointerup", (event) => {
  if (localStorage.getItem(WANTED) && context?.state !== "running" && !event.target.closest("[data-sound]")) soundOn();
});

tick();
setInterval(tick, TICK_MS);
