// A page of several forms asks for the name once: whatever is sent from it takes the name along.
export function carryTheName() {
  const carry = (event) => {
    const name = document.querySelector("[data-name] [name=who]");
    const own = event.target.elements?.who;
    if (name && own?.type === "hidden") own.value = name.value.trim();
  };
  document.addEventListener("submit", carry, true); // before anything is made of the form
}
