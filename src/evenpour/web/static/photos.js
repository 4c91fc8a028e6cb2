// A photo is made smaller here, before it goes anywhere: less to send, and where it was taken never leaves the phone. As
// text it then waits for the network like any other entry. What this browser cannot read is sent as it is.
import { sendEntry } from "./sending.js";

const LONGEST = 1600; // px, as the server keeps it
const MOST = 900000; // signs of text for one; a device keeps a few millions

async function shrunk(file) {
  const picture = await createImageBitmap(file);
  const part = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * part));
  canvas.height = Math.max(1, Math.round(picture.height * part));
  const pen = canvas.getContext("2d");
  pen.fillStyle = "#fff";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  for (const quality of [0.85, 0.7, 0.5, 0.3]) {
    const text = canvas.toDataURL("image/jpeg", quality);
    if (text.startsWith("data:image/jpeg") && text.length < MOST) return text;
  }
  return null;
}

export function sendPhotos() {
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!(form instanceof HTMLFormElement) || !form.hasAttribute("data-photo")) return;
    event.preventDefault();
    if (form.querySelector("[aria-disabled]")) return; // a second tap while it is being sent
    const file = form.elements.photo.files[0];
    const picture = file ? await shrunk(file).catch(() => null) : null;
    if (picture) await sendEntry(form, { picture });
    else HTMLFormElement.prototype.submit.call(form); // the server says what is missing or wrong
  });
}
