// The run screen: hears from the server once a minute, says so when it does not, and rings when a step is due.
const EVERY_MS = 60_000;
const PATIENCE_MS = 10_000;
const BELL = "casewright-bell";
const face = document.querySelector("[data-beat]");
const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));
let heard = face?.dataset.heard;

async function beat() {
  const away = face.querySelector(".away");
  const asked = Date.now();
  try {
    const answer = await fetch(face.dataset.beat, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    if (answer.status === 401) {
      away.textContent = "This device was signed out; the clock runs on. Reload the page to sign in.";
      away.hidden = false;
      return;
    }
    if (!answer.ok) throw new Error(answer.statusText);
    const told = await answer.json();
    heard = told.at;
    away.hidden = true;
    face.querySelector(".changed").hidden = told.mark === face.dataset.mark;
    tell("casewright:time", Date.parse(told.now) + (Date.now() - asked) / 2);
    tell("casewright:beat");
  } catch {
    away.textContent = `No answer from the shop's computer since ${heard}; the clock runs on.`;
    away.hidden = false;
  }
}

if (face) {
  setInterval(beat, EVERY_MS);
  // a tablet that slept, or lost its network, asks at once
  document.addEventListener("visibilitychange", () => document.hidden || beat());
  window.addEventListener("online", beat);
  window.addEventListener("offline", beat);
}

// The bell. Browsers let a page sound only after a tap on it, so a remembered bell is armed by the next one.
const button = document.querySelector("[data-bell]");
let sound = null;
let isDue = false;

function beep() {
  for (const at of [0, 0.35, 0.7]) {
    const [tone, loud] = [sound.createOscillator(), sound.createGain()];
    tone.frequency.value = 880;
    loud.gain.value = 0.4;
    tone.connect(loud).connect(sound.destination);
    tone.start(sound.currentTime + at);
    tone.stop(sound.currentTime + at + 0.2);
  }
}

function showBell() {
  const wanted = localStorage.getItem(BELL) === "on";
  const words = sound ? "Bell on" : "Bell: tap to wake it";
  button.textContent = wanted ? words : "Bell off";
  button.setAttribute("aria-pressed", String(wanted && sound !== null));
}

function wake() {
  if (localStorage.getItem(BELL) !== "on" || sound) return;
  sound = new AudioContext();
  showBell();
  if (isDue) beep();
}

if (button) {
  button.addEventListener("click", () => {
    const turnOff = sound !== null && localStorage.getItem(BELL) === "on";
    localStorage.setItem(BELL, turnOff ? "off" : "on");
    if (turnOff) {
      sound.close();
      sound = null;
    }
    showBell();
    if (!turnOff) {
      wake();
      if (!isDue) beep(); // one ring, to hear that it works
    }
  });
  document.addEventListener("pointerdown", (event) => event.target.closest("[data-bell]") || wake());
  document.addEventListener("casewright:due", (event) => {
    isDue = event.detail;
    if (isDue && sound) beep();
  });
  setInterval(() => isDue && sound && beep(), 5000);
  isDue = document.querySelector("[data-due]:not([hidden])") !== null;
  showBell();
}
