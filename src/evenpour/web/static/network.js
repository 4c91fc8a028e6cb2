// While the server cannot be reached, a link would leave this page, and with it the place where entries are kept, for an
// error page of the browser. That is said at the foot of the page; a tap on a link is held once, and goes the second time.
const STAY = "No network now. Stay on this page until it is back: what you enter is kept here, and sent then.";
const HELD = "No network now: this would leave the page for an error. What you sent is kept. Tap once more to go all the same.";

const AGAIN = 3000; // ms between looks while it is away

let away = false;
let held = null; // the link or form whose tap was held

// What every request says of the network: whether it was answered at all.
export function answered(yes) {
  if (away === !yes) return;
  away = !yes;
  document.getElementById("desk-away")?.remove();
  letGo();
  if (!away) return;
  const box = document.createElement("div");
  box.id = "desk-away";
  box.textContent = STAY;
  document.getElementById("desk").prepend(box);
}

function letGo() {
  held = null;
  document.getElementById("held")?.remove();
}

// The words stand at the place tapped, under it, or over it where there is no room.
function hold(event, what, place) {
  event.preventDefault();
  event.stopPropagation();
  letGo();
  held = what;
  const box = document.createElement("p");
  box.id = "held";
  box.setAttribute("role", "alert");
  box.textContent = HELD;
  document.body.append(box);
  const at = place.getBoundingClientRect();
  const under = at.bottom + box.offsetHeight + 8 < innerHeight;
  box.style.top = `${scrollY + (under ? at.bottom + 4 : Math.max(4, at.top - box.offsetHeight - 4))}px`;
  box.style.left = `${Math.max(8, Math.min(at.left, document.documentElement.clientWidth - box.offsetWidth - 8))}px`;
}

function leaves(link) {
  const same = link.pathname === location.pathname && link.search === location.search;
  return link.origin === location.origin && !link.hasAttribute("download") && !(same && link.hash);
}

// A browser's own word is not enough: on a laptop without any network the server of the same machine still answers.
export async function isThere() {
  try {
    await fetch("/static/icon.svg", { method: "HEAD", cache: "no-store" });
    answered(true);
  } catch {
    answered(false);
  }
  return !away;
}

export function holdTaps() {
  if (!navigator.onLine) isThere();
  for (const change of ["offline", "online", "pageshow"]) addEventListener(change, isThere);
  setInterval(() => away && isThere(), AGAIN);
  const tapped = (event) => {
    const link = event.target instanceof Element ? event.target.closest("a[href]") : null;
    const plain = !event.ctrlKey && !event.metaKey && !event.shiftKey && !event.altKey;
    if (away && link && link !== held && plain && leaves(link)) hold(event, link, link);
    else if (!(held instanceof HTMLFormElement && held.contains(event.target))) letGo();
  };
  const sent = (event) => {
    const form = event.target;
    if (!away || form === held || form.matches("[data-entry], [data-photo]")) return;
    hold(event, form, event.submitter ?? form);
  };
  document.addEventListener("click", tapped, true);
  document.addEventListener("submit", sent, true);
}
