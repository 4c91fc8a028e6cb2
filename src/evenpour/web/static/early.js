// Stands in the head of every page, so that it is there before any form can be seen. The scripts that send entries come
// later, over the network; what is sent before they run is kept on this device, and they send it once they are there.
(() => {
  if (!("noModule" in HTMLScriptElement.prototype)) return; // they never come: a plain form has to do
  const KEY = "evenpour.early"; // read by sending.js
  const SOON = 2500; // ms for them to come before a person is told
  const AGAIN = 3000; // ms between looks whether the server is there
  const late = () => !document.documentElement.classList.contains("scripted");
  let looking = 0;

  function entryOf(form) {
    const name = document.querySelector("[data-name] [name=who]");
    const own = form.elements.who;
    if (name && own?.type === "hidden") own.value = name.value.trim();
    const body = new URLSearchParams();
    for (const [field, value] of new FormData(form)) if (typeof value === "string") body.append(field, value);
    const bytes = [...crypto.getRandomValues(new Uint8Array(9))].map((byte) => byte.toString(16).padStart(2, "0"));
    const filled = [...form.querySelectorAll("input:not([type]), input[type=text], textarea")].map((one) => one.value.trim());
    const words = [form.querySelector("button").textContent.trim(), ...filled.filter(Boolean)].join(", ").slice(0, 120);
    return { id: `${form.elements.kind?.value || "entry"}-${bytes.join("")}`, url: form.getAttribute("action"), body: body.toString(), words, when: Date.now() };
  }

  // Nobody has typed anything since: then nothing is lost with the page.
  const untouched = () => [...document.querySelectorAll("input, textarea")].every((one) => one.value === one.defaultValue);

  async function look() {
    if (!late()) return clearInterval(looking);
    try {
      await fetch("/static/icon.svg", { method: "HEAD", cache: "no-store" });
    } catch {
      return;
    }
    if (untouched()) location.reload(); // the page comes again with its scripts, and they send it
  }

  function letGo(form, button, words) {
    if (!form.hasAttribute("data-held") || !late()) return;
    form.removeAttribute("data-held");
    button.removeAttribute("aria-disabled");
    const said = document.createElement("p");
    said.className = "kept-here";
    said.setAttribute("role", "status");
    said.textContent = `Kept on this device: ${words}. It is sent as soon as the server answers.`;
    form.after(said);
    form.reset();
    looking ||= setInterval(look, AGAIN);
  }

  addEventListener("submit", (event) => {
    const form = event.target;
    if (!late() || !(form instanceof HTMLFormElement) || !form.hasAttribute("data-entry")) return;
    if (form.hasAttribute("data-held")) return event.preventDefault(); // a second tap
    const one = entryOf(form);
    try {
      localStorage.setItem(KEY, JSON.stringify([...(JSON.parse(localStorage.getItem(KEY)) || []), one]));
    } catch {
      return; // no room on this device: it goes as a plain form
    }
    event.preventDefault();
    const button = form.querySelector("button:not([type=button])");
    form.setAttribute("data-held", one.id);
    button.setAttribute("aria-disabled", "true");
    setTimeout(letGo, SOON, form, button, one.words);
  }, true);
})();
