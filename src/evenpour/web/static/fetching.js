// Drawings that take the server a moment are fetched when the page already stands.
export async function fetchLater() {
  for (const place of document.querySelectorAll("[data-fetch]")) {
    try {
      const answer = await fetch(place.dataset.fetch);
      if (!answer.ok) continue;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      place.replaceChildren(...[...page.body.childNodes].map((one) => document.adoptNode(one)));
      place.removeAttribute("data-fetch");
    } catch {
      // no server now: the table says the same
    }
  }
}
