// Times that matter. What is kept is the moment of the start, so that a locked screen or a reload stops nothing; the tones
// are set in advance, because a page in the background is woken too seldom to sound them itself.
const KEY = "evenpour.timer ";
const LONGEST = 12 * 3600 * 1000; // ms, after which a clock was forgotten
const LOOK = 200; // ms between looks at the clock

let sound = null;

function audio() {
  sound ||= new (window.AudioContext || window.webkitAudioContext)();
  if (sound.state === "suspended") sound.resume();
  return sound;
}

// One tone, *after* seconds from now.
function tone(after, length, pitch) {
  if (after < 0) return null;
  const context = audio();
  const begin = context.currentTime + after;
  const source = context.createOscillator();
  const loud = context.createGain();
  source.frequency.value = pitch;
  loud.gain.setValueAtTime(0.0001, begin);
  loud.gain.exponentialRampToValueAtTime(0.4, begin + 0.02);
  loud.gain.setValueAtTime(0.4, begin + length - 0.05);
  loud.gain.exponentialRampToValueAtTime(0.0001, begin + length);
  source.connect(loud).connect(context.destination);
  source.start(begin);
  source.stop(begin + length);
  return source;
}

function clock(seconds) {
  const whole = Math.floor(Math.abs(seconds));
  const two = (number) => String(number).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const rest = `${hours ? two(Math.floor((whole % 3600) / 60)) : Math.floor(whole / 60)}:${two(whole % 60)}`;
  return `${seconds < 0 ? "−" : ""}${hours ? `${hours}:` : ""}${rest}`;
}

class Timer {
  constructor(box) {
    this.box = box;
    this.key = KEY + box.dataset.timer;
    this.lead = Number(box.dataset.lead) || 0;
    this.fills = box.dataset.fills;
    this.figure = box.querySelector(".runs");
    this.word = box.querySelector(".past");
    this.runFor = box.querySelector("[data-run-for]");
    this.tones = [];
    this.passed = -1;
    for (const name of ["start", "stop", "clear"]) {
      this[name + "Button"] = box.querySelector(`[data-do=${name}]`);
      this[name + "Button"].addEventListener("click", () => this[name]());
    }
    this.look();
    const looking = setInterval(() => (box.isConnected ? this.look() : clearInterval(looking)), LOOK);
    document.addEventListener("visibilitychange", () => document.hidden || this.sound());
    if (this.kept && !this.kept.end) this.sound();
  }

  get kept() {
    try {
      return JSON.parse(localStorage.getItem(this.key));
    } catch {
      return null;
    }
  }

  set kept(value) {
    if (value === null) localStorage.removeItem(this.key);
    else localStorage.setItem(this.key, JSON.stringify(value));
    this.look();
  }

  get marks() {
    const kept = this.kept;
    if (kept && kept.marks) return kept.marks;
    if (this.runFor) return Number(this.runFor.value.replace(",", ".")) > 0 ? [Number(this.runFor.value.replace(",", "."))] : [];
    return this.box.dataset.marks.split(",").filter(Boolean).map(Number);
  }

  start() {
    audio();
    this.passed = -1;
    const heading = document.querySelector("h1").textContent.trim().replace(/\s+/g, " ");
    this.kept = { start: Date.now() + 1000 * this.lead, marks: this.marks, of: heading };
    this.sound();
    this.stopButton.focus();
  }

  stop() {
    const kept = this.kept;
    if (!kept) return;
    this.kept = { ...kept, end: Date.now() };
    this.silence();
    this.fill((this.kept.end - kept.start) / 1000);
    this.clearButton.focus();
  }

  clear() {
    this.silence();
    this.passed = -1;
    this.kept = null;
    this.startButton.focus();
  }

  // Seconds since the start; below nought while it is being counted in.
  get seconds() {
    const kept = this.kept;
    return kept ? ((kept.end || Date.now()) - kept.start) / 1000 : 0;
  }

  silence() {
    for (const one of this.tones) {
      try {
        one.stop();
      } catch {
        // it has sounded already
      }
    }
    this.tones = [];
  }

  // Set every tone that is still to come.
  sound() {
    const kept = this.kept;
    this.silence();
    if (!kept || kept.end) return;
    const now = this.seconds;
    try {
      for (let left = this.lead; left > 0; left -= 1) this.tones.push(tone(-left - now, 0.12, 660));
      if (this.lead) this.tones.push(tone(-now, 0.6, 990));
      for (const mark of kept.marks) this.tones.push(tone(mark - now, 0.7, 880));
    } catch {
      // no sound on this device, or none before the first tap
    }
    this.tones = this.tones.filter(Boolean);
  }

  look() {
    const kept = this.kept;
    const seconds = this.seconds;
    this.figure.textContent = clock(seconds);
    this.startButton.hidden = Boolean(kept);
    this.stopButton.hidden = !kept || Boolean(kept.end);
    this.clearButton.hidden = !kept || !kept.end;
    if (!kept || kept.end) return;
    const past = kept.marks.filter((mark) => seconds >= mark).length;
    if (past && past !== this.passed) {
      this.passed = past;
      const mark = kept.marks[past - 1];
      this.word.textContent = past === kept.marks.length && this.runFor ? "Time is up." : `${clock(mark)} passed: read now.`;
      this.word.classList.remove("hidden");
      this.fill(mark);
      if (past === kept.marks.length && this.runFor) this.kept = { ...kept, end: kept.start + 1000 * mark };
    }
  }

  // The time goes into the field of the reading that asks for it.
  fill(seconds) {
    if (!this.fills) return;
    for (const field of document.querySelectorAll(`[data-fills="${this.fills}"]`)) {
      if (field === document.activeElement) continue;
      const unit = field.form && field.form.elements[`${field.name}-unit`];
      if (unit) unit.value = seconds < 120 ? "s" : "min";
      const minutes = unit && unit.value === "min";
      field.value = String(Math.round((minutes ? seconds / 60 : seconds) * 10) / 10);
    }
  }
}

// The clocks of this job that run on other pages than this one: each in a line with a link to it.
function elsewhere() {
  const job = document.body.dataset.job;
  const here = new Set([...document.querySelectorAll("[data-timer]")].map((box) => KEY + box.dataset.timer));
  if (!job) return [];
  return Object.keys(localStorage)
    .filter((key) => key.startsWith(`${KEY}${job}/`) && !here.has(key))
    .map((key) => ({ address: key.slice(KEY.length), ...JSON.parse(localStorage.getItem(key)) }))
    .filter((kept) => kept.start && !kept.end && Date.now() - kept.start < LONGEST);
}

// "12:05 of 20:00"; said aloud once, when the box appears: its figures change each second.
function tellElsewhere() {
  let running = [];
  try {
    running = elsewhere();
  } catch {
    // nothing is kept on this device
  }
  let box = document.getElementById("clocks");
  if (!running.length) {
    if (box) box.remove();
    return;
  }
  if (!box) {
    box = document.createElement("section");
    box.id = "clocks";
    box.className = "clocks";
    box.setAttribute("aria-label", "Clocks that run");
    document.getElementById("main").prepend(box);
  }
  running.forEach((kept, place) => {
    const line = box.children[place] || box.appendChild(document.createElement("p"));
    const seconds = (Date.now() - kept.start) / 1000;
    const next = kept.marks.find((mark) => mark > seconds);
    if (line.dataset.of !== kept.address) {
      line.dataset.of = kept.address;
      line.replaceChildren(document.createElement("span"), " ", document.createElement("a"));
      line.lastChild.href = kept.address.includes("#") ? kept.address.replace(/#(\d+)$/, "#timer-$1") : `${kept.address}#timer-catch`;
      line.lastChild.textContent = kept.of || "To the clock";
      line.firstChild.className = "figure";
    }
    const words = next === undefined ? "past its last mark" : `next mark at ${clock(next)}`;
    const said = `A clock runs: ${clock(seconds)}, ${words}.`;
    if (line.firstChild.textContent !== said) line.firstChild.textContent = said;
  });
  while (box.children.length > running.length) box.lastChild.remove();
}

export function runTimers() {
  tellElsewhere();
  setInterval(tellElsewhere, 1000);
  for (const box of document.querySelectorAll("[data-timer]")) new Timer(box);
  document.addEventListener("evenpour:shown", () => {
    for (const box of document.querySelectorAll("[data-timer]")) new Timer(box);
  });
}
