// Reads new alerts and calls to people who do not see the page; a call to decide also by sound and notification, where this
// browser has them switched on.

import { byId } from "./dom.js";
import { Help, Aloud } from "./ids.js";
import { keep, kept } from "./kept.js";
import { newsOf } from "./pure/news.js";

const SOUND = "sound", NOTIFY = "notify", ON = "on";
const TONES_HZ = [660, 880], TONE_S = 0.18, LOUD = 0.2;
let before = null;

export function draw(m) {
  const news = newsOf(before && before.boot === m.boot ? before.told : null, m.board.told);
  before = { boot: m.boot, told: m.board.told };
  if (news.alerts.length) byId(Aloud.NEWS).textContent = "New alert: " + news.alerts.join(" ");
  if (news.call === null) return;
  byId(Aloud.CALL).textContent = news.call;
  if (kept(SOUND) === ON) sound();
  if (kept(NOTIFY) === ON && "Notification" in window) new Notification("Tetherline: a call to decide", { body: news.call });
}

function sound() {
  const audio = new AudioContext();
  setTimeout(() => audio.close(), 1000 * TONE_S * (TONES_HZ.length + 1));
  TONES_HZ.forEach((pitch, at) => {
    const tone = audio.createOscillator(), loudness = audio.createGain();
    tone.frequency.value = pitch;
    loudness.gain.value = LOUD;
    tone.connect(loudness).connect(audio.destination);
    tone.start(audio.currentTime + at * TONE_S);
    tone.stop(audio.currentTime + (at + 1) * TONE_S);
  });
}

// ---- the switches: off until someone switches them on ----

function drawSwitch(id, name) {
  const isOn = kept(name) === ON, button = byId(id);
  button.textContent = button.textContent.replace(/: (on|off)$/, ": " + (isOn ? "on" : "off"));
  button.setAttribute("aria-pressed", String(isOn));
}

const saySwitch = (words) => { byId(Help.SAID).textContent = words; };

function switchSound() {
  keep(SOUND, kept(SOUND) === ON ? "off" : ON);
  drawSwitch(Help.SOUND, SOUND);
  if (kept(SOUND) === ON) sound();
}

async function switchNotify() {
  if (kept(NOTIFY) === ON) keep(NOTIFY, "off");
  else if (!("Notification" in window)) saySwitch("This browser has no notifications.");
  else if (await Notification.requestPermission() === "granted") keep(NOTIFY, ON);
  else saySwitch("This browser does not allow notifications of this page. Allow them in its settings, then switch them on here.");
  drawSwitch(Help.NOTIFY, NOTIFY);
}

// What is drawn when the map of keys is opened.
function show() {
  drawSwitch(Help.SOUND, SOUND);
  drawSwitch(Help.NOTIFY, NOTIFY);
}

export const pressed = { [Help.SOUND]: switchSound, [Help.NOTIFY]: switchNotify };

export function listen() {
  document.addEventListener("click", (event) => { if (event.target.id === Help.OPEN) show(); });
}
