// Forms are sent from here, each entry under an id of its own, so that one sent twice counts once. What cannot be sent
// stays on this device, in order, and goes out as soon as the server answers again: after a lost network, a restart of
// the server, or a reload of this page.
import { stamp } from "./clock.js";
import { answered, isThere } from "./network.js";
import { isShutOut, sayShutOut } from "./door.js";

const KEY = "evenpour.waiting";
const EARLY = "evenpour.early"; // written by early.js
const AGAIN = 3000; // ms between tries
const PATIENCE = 15000; // ms for one answer

const TROUBLE = 3; // times the server may fail at an entry before a person is told

// ---- the entries that wait, oldest first: {id, url, body, words, refused, failed} ----
function waiting() {
  try {
    return JSON.parse(localStorage.getItem(KEY)) || [];
  } catch {
    return [];
  }
}

function keep(list) {
  localStorage.setItem(KEY, JSON.stringify(list));
  show();
}

function change(id, more) {
  keep(waiting().map((one) => (one.id === id ? { ...one, ...more } : one)));
}

function drop(id) {
  keep(waiting().filter((one) => one.id !== id));
}

function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(9));
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// ---- from a form to an entry that waits ----
function entryOf(form) {
  const id = `${form.elements.kind ? form.elements.kind.value : "entry"}-${newId()}`;
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (typeof value === "string") body.append(name, value);
  return { id, url: form.getAttribute("action"), body: timed(body, id, stamp()), words: wordsOf(form) };
}

function timed(body, id, now) {
  body.set("entry_id", id);
  if (!body.get("at")) body.set("at", now);
  body.set("at_now", now);
  return body.toString();
}

// What was sent before this script was there; the newest of it still stands in its form, if that is on this page.
function takeEarly() {
  let list = [];
  try {
    list = JSON.parse(localStorage.getItem(EARLY)) || [];
  } catch {
    return;
  }
  const entries = list.map((one) => ({ id: one.id, url: one.url, body: timed(new URLSearchParams(one.body), one.id, stamp(one.when)), words: one.words }));
  const last = entries.at(-1);
  const form = last && document.querySelector(`form[data-held="${last.id}"]`);
  const rest = form ? entries.slice(0, -1) : entries;
  try {
    if (rest.length) keep([...waiting(), ...rest]);
  } catch {
    return; // no room now: it stays where it is
  }
  if (form) {
    form.removeAttribute("data-held");
    sendNow(form, last);
  }
  localStorage.removeItem(EARLY); // under the same ids it stands in the other list
}

// What is waiting, in words: the form's heading and what was filled in.
function wordsOf(form) {
  const head = form.querySelector("h3, legend, label");
  const filled = [...form.querySelectorAll("input:not([type=hidden]):not([type=radio]):not([type=checkbox]):not([type=file]), input:checked")]
    .map((one) => (one.type === "radio" ? one.nextElementSibling.textContent.trim() : one.value.trim()))
    .filter(Boolean);
  const button = form.querySelector("button");
  const title = form.getAttribute("aria-labelledby") && head ? head.textContent.trim() : button.textContent.trim();
  return [title, ...filled.slice(0, 3)].join(", ").slice(0, 120);
}

async function post(one) {
  const stop = new AbortController();
  const clock = setTimeout(() => stop.abort(), PATIENCE);
  try {
    const answer = await fetch(one.url, {
      method: "POST",
      body: one.body,
      headers: { "content-type": "application/x-www-form-urlencoded", accept: "application/json, text/html" },
      signal: stop.signal,
    });
    answered(true);
    const shutOut = isShutOut(answer);
    if (shutOut) sayShutOut();
    return { status: answer.status, shutOut, text: await answer.text(), json: (answer.headers.get("content-type") || "").includes("json") };
  } catch {
    answered(false);
    return { status: 0, shutOut: false, text: "", json: false };
  } finally {
    clearTimeout(clock);
  }
}

const kept = (answer) => answer.status >= 200 && answer.status < 300 && answer.json;
const refused = (answer) => [400, 404, 409, 413, 422].includes(answer.status);
const failed = (answer) => answer.status >= 500 || (answer.status === 403 && !answer.shutOut);

// ---- sending what waits: one at a time, in order ----
const keptBeside = new Map(); // entries kept on this page, and the words beside their form that say so
const watched = new Map(); // entries just typed on this page, and the server's answer once there is one
let running = null;

export function sendWaiting() {
  running ||= sendAll().finally(() => (running = null));
  return running;
}

async function sendAll() {
  let sent = 0;
  const tried = new Set();
  for (;;) {
    const one = waiting().find((entry) => !entry.refused && !tried.has(entry.id));
    if (!one) break;
    tried.add(one.id);
    const answer = await post(one);
    if (watched.has(one.id)) watched.set(one.id, answer);
    if (kept(answer)) {
      drop(one.id);
      sent += 1;
      sentLate(one, JSON.parse(answer.text).go);
    } else if (refused(answer)) {
      if (watched.has(one.id)) drop(one.id); // its form shows what is wrong
      else change(one.id, { refused: problemIn(answer.text) });
    } else if (failed(answer)) {
      const times = one.failed || 0; // at this one: the next may be taken
      if (times < TROUBLE) change(one.id, { failed: times + 1 });
    } else break; // no answer of ours: all are tried again later
  }
  if (sent) document.dispatchEvent(new CustomEvent("evenpour:sent", { detail: sent }));
}

function problemIn(html) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const found = page.querySelector("#problems li") || page.querySelector("main p");
  return found ? found.textContent.trim() : "It was not understood.";
}

async function sendNow(form, one) {
  const button = form.querySelector("button:not([type=button])");
  button.setAttribute("aria-disabled", "true");
  watched.set(one.id, null);
  try {
    keep([...waiting(), one]); // it stands in the list before it is sent: whatever happens now, it is not lost
  } catch {
    return noRoom(form, one); // the device keeps no more; what stood in the list still does
  }
  await sendWaiting();
  if (watched.get(one.id) === null) await sendWaiting(); // the first run had begun before it was in the list
  const answer = watched.get(one.id);
  watched.delete(one.id);
  button.removeAttribute("aria-disabled");
  if (answer && kept(answer)) {
    const go = new URL(JSON.parse(answer.text).go, location.href);
    const same = go.pathname === location.pathname && go.search === location.search;
    location.assign(go);
    if (same) location.reload();
  } else if (answer && refused(answer)) showAgain(answer.text);
  else keptHere(form, one);
}

// The page as the server shows it with what was wrong.
function showAgain(html) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const main = page.querySelector("main");
  if (!main) return;
  document.querySelector("main").replaceWith(document.adoptNode(main));
  document.dispatchEvent(new CustomEvent("evenpour:shown"));
  const problems = document.getElementById("problems");
  if (problems) {
    problems.scrollIntoView({ block: "start" });
    problems.focus();
  }
}

// There is no room left on the device, so the entry goes out as a plain form: it needs the network now.
async function noRoom(form, one) {
  watched.delete(one.id);
  form.querySelector("button:not([type=button])").removeAttribute("aria-disabled");
  if (await isThere()) HTMLFormElement.prototype.submit.call(form);
  else sayBeside(form, "This device has no room to keep it until the network is back. Send it then; nothing was changed here.");
}

export function sendEntry(form, more) {
  const one = entryOf(form);
  const body = new URLSearchParams(one.body);
  for (const [name, value] of Object.entries(more)) body.set(name, value);
  return sendNow(form, { ...one, body: body.toString() });
}

function sayBeside(form, words) {
  const said = document.createElement("p");
  said.className = "kept-here";
  said.setAttribute("role", "status");
  said.textContent = words;
  form.after(said);
  return said;
}

// No answer: the entry stays here, and the form is free for the next one.
function keptHere(form, one) {
  const said = sayBeside(form, `Kept on this device: ${one.words}. It is sent as soon as the server answers.`);
  keptBeside.set(one.id, said);
  form.reset();
  show();
  const first = form.querySelector("input:not([type=hidden]), select, textarea");
  if (first) first.focus();
}

// It went out after all: the words that said it was kept now lead to what it says.
function sentLate(one, go) {
  const said = keptBeside.get(one.id);
  if (!said) return;
  keptBeside.delete(one.id);
  const link = document.createElement("a");
  link.href = go;
  link.textContent = "What it says";
  said.replaceChildren(`Sent: ${one.words}. `, link);
}

// ---- the note at the foot of the page ----
function show() {
  const desk = document.getElementById("desk");
  const list = waiting();
  const inTrouble = (one) => one.refused || one.failed >= TROUBLE;
  const open = list.filter((one) => !inTrouble(one) && !watched.has(one.id));
  const bad = list.filter(inTrouble);
  document.getElementById("desk-waiting")?.remove();
  document.getElementById("desk-refused")?.remove();
  if (open.length) {
    const box = document.createElement("div");
    box.id = "desk-waiting";
    box.textContent = open.length === 1 ? "One entry waits on this device to be sent." : `${open.length} entries wait on this device to be sent.`;
    desk.append(box);
  }
  if (bad.length) {
    const box = document.createElement("div");
    box.id = "desk-refused";
    box.append(`Sent late and not taken:`);
    const lines = document.createElement("ul");
    for (const one of bad) {
      const line = document.createElement("li");
      line.append(`${one.words}: ${one.refused || "the server fails at it. It is tried again, and stays here until it is taken."} `);
      const mend = document.createElement("button");
      mend.textContent = "Mend it";
      mend.addEventListener("click", () => showForm(one));
      const away = document.createElement("button");
      away.className = "second";
      away.textContent = "Throw it away";
      away.addEventListener("click", () => drop(one.id));
      line.append(mend, away);
      lines.append(line);
    }
    box.append(lines);
    desk.append(box);
  }
}

// A refused entry is sent as a plain form: the server then shows its page with everything that was typed. It leaves the
// list only when the server is there and has looked at it again.
async function showForm(one) {
  const answer = await post(one);
  if (kept(answer)) {
    drop(one.id);
    location.assign(JSON.parse(answer.text).go);
    return;
  }
  if (!refused(answer)) return;
  const form = document.createElement("form");
  form.method = "post";
  form.action = one.url;
  for (const [name, value] of new URLSearchParams(one.body)) {
    const field = document.createElement("input");
    field.type = "hidden";
    field.name = name;
    field.value = name === "at_now" ? "" : value; // it waited: when it was so is shown, and stays
    form.append(field);
  }
  document.body.append(form);
  drop(one.id);
  HTMLFormElement.prototype.submit.call(form);
}

export function sendForms() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.hasAttribute("data-entry")) return;
    event.preventDefault();
    if (form.querySelector("[aria-disabled]")) return; // a second tap while it is being sent
    sendNow(form, entryOf(form));
  });
  addEventListener("online", sendWaiting);
  addEventListener("storage", show);
  document.addEventListener("visibilitychange", () => document.hidden || sendWaiting());
  setInterval(() => waiting().length && sendWaiting(), AGAIN);
  takeEarly();
  show();
  sendWaiting();
}
