// Shown out: the server knows this device no longer, or not yet. What was entered stays on it, and goes out once it is
// paired again.
export function isShutOut(answer) {
  return answer.status === 403 && answer.headers.get("evenpour-door") === "closed";
}

export function sayShutOut() {
  if (document.getElementById("desk-door")) return;
  const box = document.createElement("div");
  box.id = "desk-door";
  const link = document.createElement("a");
  link.className = "aside-link";
  link.href = "/pair";
  link.textContent = "Pair it again";
  box.append("This device is let in no longer. What you enter is kept on it. ", link);
  document.getElementById("desk").append(box);
}
