// Parts of a page that must not grow old, of no job: fetched again every few seconds while somebody looks.
const EVERY = 4000; // ms

async function again(address) {
  if (document.hidden) return;
  let page;
  try {
    const answer = await fetch(address, { headers: { accept: "text/html" } });
    if (!answer.ok) return;
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return; // no server now; it is asked again
  }
  for (const old of document.querySelectorAll("[data-again]")) {
    const fresh = page.getElementById(old.id);
    if (!fresh || fresh.innerHTML === old.innerHTML || old.contains(document.activeElement)) continue;
    old.replaceChildren(...document.adoptNode(fresh).childNodes);
  }
}

export function askAgain() {
  const first = document.querySelector("[data-again]");
  if (first) setInterval(() => again(first.dataset.again), EVERY);
}
