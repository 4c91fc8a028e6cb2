// What others enter on the same job shows here without a reload: the journal's head is asked every few seconds, and
// where it changed, the parts of the page that tell of the job are fetched anew. Forms are left alone.
import { fetchLater } from "./fetching.js";
import { replaceChildrenAt } from "./focus.js";
import { isShutOut, sayShutOut } from "./door.js";
import { answered } from "./network.js";

const EVERY = 2500; // ms

let head = document.body.dataset.head;

async function ask() {
  if (document.hidden) return;
  let news;
  try {
    const answer = await fetch(`${document.body.dataset.job}/news?after=${head}`);
    answered(true);
    if (isShutOut(answer)) sayShutOut();
    if (!answer.ok) return;
    news = await answer.json();
  } catch {
    answered(false); // it is asked again
    return;
  }
  if (news.head === head) return;
  head = news.head;
  await freshen();
  tell(news.said);
}

async function freshen() {
  let page;
  try {
    const answer = await fetch(location.pathname + location.search, { headers: { accept: "text/html" } });
    if (!answer.ok) return;
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return;
  }
  for (const old of document.querySelectorAll("[data-live]")) {
    const fresh = page.getElementById(old.id);
    if (!fresh || fresh.innerHTML === old.innerHTML || isBeingFilledIn(old)) continue;
    const open = [...old.querySelectorAll("details")].map((one) => one.open);
    replaceChildrenAt(old, document.adoptNode(fresh).childNodes);
    [...old.querySelectorAll("details")].forEach((one, place) => (one.open = open[place] || one.open));
    old.classList.remove("fresh");
    requestAnimationFrame(() => old.classList.add("fresh"));
  }
  fetchLater();
}

// Whether somebody is at a field in there, or has left something in one.
function isBeingFilledIn(place) {
  if (place.contains(document.activeElement) && document.activeElement.form) return true;
  return [...place.querySelectorAll("input, textarea")].some((one) =>
    one.type === "radio" || one.type === "checkbox" ? one.checked !== one.defaultChecked : one.value !== one.defaultValue,
  );
}

function tell(said) {
  if (!said.length) return;
  const desk = document.getElementById("desk");
  document.getElementById("desk-news")?.remove();
  const box = document.createElement("div");
  box.id = "desk-news";
  box.textContent = said.length === 1 ? `Just entered. ${said[0]}` : `Just entered: ${said.join("; ")}`;
  desk.append(box);
  setTimeout(() => box.remove(), 12000);
}

export function followTheJob() {
  if (!document.body.dataset.job) return;
  setInterval(ask, EVERY);
  document.addEventListener("visibilitychange", ask);
  document.addEventListener("evenpour:sent", ask);
}
