// A sheet's form is checked while somebody types, by the same rules that hold when it is saved; and what was typed
// stays on this device until it is saved.
const PAUSE = 400; // ms after the last stroke

const fieldsOf = (form) => [...form.elements].filter((one) => one.name && one.type !== "hidden");
const said = (one) => (one.type === "radio" || one.type === "checkbox" ? one.checked : one.value);

function keep(form, key) {
  const kept = fieldsOf(form).map((one) => said(one));
  try { localStorage.setItem(key, JSON.stringify({ stamp: form.dataset.checked, kept })); } catch { /* full, or not allowed */ }
}

// True if something was typed before that is not saved yet; it is put back.
function putBack(form, key) {
  let draft;
  try { draft = JSON.parse(localStorage.getItem(key)); } catch { return false; }
  const fields = fieldsOf(form);
  if (!draft || draft.stamp !== form.dataset.checked || draft.kept.length !== fields.length) {
    try { localStorage.removeItem(key); } catch { /* not allowed */ }
    return false;
  }
  let differs = false;
  fields.forEach((one, place) => {
    if (said(one) === draft.kept[place]) return;
    differs = true;
    if (one.type === "radio" || one.type === "checkbox") one.checked = draft.kept[place];
    else one.value = draft.kept[place];
  });
  return differs;
}

function showWrong(form, wrong) {
  form.querySelectorAll(".problem").forEach((old) => old.remove());
  form.querySelectorAll("[aria-invalid]").forEach((one) => { one.removeAttribute("aria-invalid"); one.removeAttribute("aria-describedby"); });
  const left = [];
  for (const { field, words } of wrong) {
    const input = fieldsOf(form).find((one) => one.name === field || one.name.startsWith(`${field}.`));
    const place = input && input.closest(".field");
    if (!place) { left.push(words); continue; }
    const line = document.createElement("p");
    line.className = "problem";
    line.id = `edit-${field}-problem`;
    line.textContent = words;
    place.append(line);
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", line.id);
  }
  return left;
}

async function check(form, status) {
  const body = new URLSearchParams(new FormData(form));
  body.set("check", "yes");
  let answer;
  try {
    const response = await fetch(form.action, { method: "POST", body, headers: { accept: "application/json" } });
    if (!response.ok) return;
    answer = await response.json();
  } catch {
    status.textContent = "The server cannot be reached now; what you typed stays here.";
    return;
  }
  const left = showWrong(form, answer.wrong);
  status.textContent = [answer.says, ...left].join(" ");
}

export function checkSheets() {
  const form = document.querySelector("form[data-checked]");
  if (!form) return;
  const status = form.querySelector("[data-says]");
  const key = `sheet ${location.pathname}${location.search.includes("of=") ? location.search : ""}`;
  let timer = 0;
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => check(form, status), PAUSE);
  };
  if (!document.getElementById("problems") && putBack(form, key)) {
    status.textContent = "What was typed here before is put back; it is not saved yet.";
    soon();
  }
  form.addEventListener("input", () => { keep(form, key); soon(); });
  form.addEventListener("change", () => { keep(form, key); soon(); });
}
