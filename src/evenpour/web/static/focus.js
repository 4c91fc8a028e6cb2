// Whoever goes by keyboard or hears the page read keeps the place when a piece of it is put in anew: what had the focus
// has it again, or the piece itself where that is gone.
export function replaceChildrenAt(piece, children) {
  const held = document.activeElement;
  const inside = held !== piece && piece.contains(held);
  const place = inside ? alike(piece, held).indexOf(held) : -1;
  piece.replaceChildren(...children);
  if (!inside) return;
  const found = alike(piece, held);
  const again = found[Math.min(place, found.length - 1)] ?? piece;
  if (again === piece && !piece.hasAttribute("tabindex")) piece.tabIndex = -1;
  again.focus({ preventScroll: true });
}

// What is the same for whoever uses it, in its order: of that id, else leading to the same or named the same.
function alike(piece, held) {
  const is = signOf(held);
  return [...piece.querySelectorAll(held.localName)].filter((one) => signOf(one) === is);
}

function signOf(one) {
  return one.id || ["href", "name", "value", "aria-label"].map((name) => one.getAttribute(name) ?? "").join("\n");
}
