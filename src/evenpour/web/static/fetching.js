// Drawings and answers that take the server a moment are fetched when the page already stands; what is not ready by then
// says so, and is asked for again.
import { replaceChildrenAt } from "./focus.js";

const AGAIN = 1000; // ms

export async function fetchLater() {
  let again = false;
  for (const place of document.querySelectorAll("[data-fetch]")) {
    try {
      const answer = await fetch(place.dataset.fetch);
      if (!answer.ok) continue;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const ready = !page.querySelector("[data-again]");
      // what stands here says already that it is not ready; a first look is shown once, and the rest still fetched
      again ||= !ready;
      if (!ready && [undefined, firstLookIn(place)].includes(firstLookIn(page))) continue;
      replaceChildrenAt(place, [...page.body.childNodes].map((one) => document.adoptNode(one)));
      if (!ready) continue;
      place.removeAttribute("data-fetch");
      place.removeAttribute("aria-busy");
    } catch {
      // no server now: the table says the same
    }
  }
  if (again) setTimeout(fetchLater, AGAIN);
}

// Which readings the first look there takes in, if there is one.
function firstLookIn(place) {
  return place.querySelector("[data-first]")?.dataset.first;
}
