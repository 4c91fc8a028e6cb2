// The bench follows what is turned: the form is asked as it stands, one question at a time, and the answer says where
// every piece of the drawing moves to. Without this the form is sent as any other.
const form = document.getElementById("bench");
const WAIT = 40; // ms after a movement, so that a drag is a few questions and not a hundred

let timer = 0;
let busy = false;
let again = false;
let aloud = false;

function asked() {
  const fields = new URLSearchParams();
  for (const [name, value] of new FormData(form)) fields.append(name, value);
  return `${form.dataset.liveAt}?${fields}`;
}

async function follow() {
  if (busy) {
    again = true;
    return;
  }
  busy = true;
  const problem = document.getElementById("bench-problem");
  try {
    const answer = await fetch(asked(), { headers: { accept: "application/json" } });
    const said = await answer.json();
    if (answer.ok) show(said);
    problem.textContent = said.problem || "";
  } catch {
    problem.textContent = "The server does not answer; the drawing stands as it was.";
  } finally {
    busy = false;
  }
  if (again) {
    again = false;
    follow();
  } else if (aloud) {
    aloud = false;
    document.getElementById("bench-heard").textContent = document.getElementById("bench-said").textContent.trim();
  }
}

function show(said) {
  for (const [id, attributes] of Object.entries(said.moves)) {
    const one = document.getElementById(id);
    if (one) for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
  }
  for (const [id, words] of Object.entries(said.words)) {
    const one = document.getElementById(id);
    if (one && one.textContent !== words) one.textContent = words;
  }
  for (const [id, html] of Object.entries(said.pieces)) replace(document.getElementById(id), html);
  if (!again) for (const [name, value] of Object.entries(said.fields)) fill(name, value);
  history.replaceState(null, "", said.address);
}

// A piece is set anew where it differs; what was unfolded in it stays so.
function replace(old, html) {
  if (!old || old.dataset.html === html) return;
  old.dataset.html = html;
  const open = [...old.querySelectorAll("details")].map((one) => one.open);
  const page = new DOMParser().parseFromString(html, "text/html");
  old.replaceChildren(...[...page.body.childNodes].map((one) => document.adoptNode(one)));
  [...old.querySelectorAll("details")].forEach((one, place) => (one.open = open[place] || one.open));
}

function fill(name, value) {
  const field = form.elements[name];
  if (!field || field === document.activeElement) return;
  field.value = value;
  const slide = form.querySelector(`[data-for="${field.id}"]`);
  if (!slide) return;
  if (slide !== document.activeElement) slide.value = value;
  tell(slide);
}

// How a slider is read aloud, and whether it stands away from where it rests.
function tell(slide) {
  const field = document.getElementById(slide.dataset.for);
  slide.setAttribute("aria-valuetext", `${field.value} ${slide.dataset.unit}`.trim());
  const rest = form.elements[`rest.${field.name}`];
  slide.closest(".slide").classList.toggle("is-set", !!rest && Number(field.value.replace(",", ".")) !== Number(rest.value));
}

function later() {
  clearTimeout(timer);
  timer = setTimeout(follow, WAIT);
}

function cylinders() {
  for (const choice of form.querySelectorAll("[name^='fault.']")) {
    const slot = choice.name.split(".")[1];
    const each = choice.selectedOptions[0]?.hasAttribute("data-each") || false;
    form.elements[`cylinder.${slot}`].closest(".field").hidden = !each;
    form.elements[`severity.${slot}`].closest(".slide").hidden = !choice.value;
  }
}

if (form) {
  form.addEventListener("input", (event) => {
    const one = event.target;
    const slide = one.dataset.for ? one : form.querySelector(`[data-for="${one.id}"]`);
    if (slide && slide === one) document.getElementById(one.dataset.for).value = one.value;
    else if (slide) slide.value = one.value.replace(",", ".");
    if (slide) tell(slide);
    later();
  });
  form.addEventListener("change", (event) => {
    if (event.target.hasAttribute("data-reload")) {
      location.assign(`${form.getAttribute("action")}?${new URLSearchParams({ sheet: event.target.value })}`);
      return;
    }
    cylinders();
    aloud = true;
    later();
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    aloud = true;
    follow();
  });
  for (const slide of form.querySelectorAll("[data-for]")) tell(slide);
  cylinders();
}
