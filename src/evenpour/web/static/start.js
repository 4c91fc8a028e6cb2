// What every page runs. Each page works without any of it: plain forms, plain links.
import { sendForms } from "./sending.js";
import { followTheJob } from "./news.js";
import { fetchLater } from "./fetching.js";
import { runTimers } from "./timers.js";
import { askAgain } from "./again.js";
import { sendPhotos } from "./photos.js";
import { checkSheets } from "./sheets.js";
import { carryTheName } from "./name.js";
import { holdTaps } from "./network.js";

document.documentElement.classList.add("scripted");
runTimers();
carryTheName();
holdTaps();
sendForms();
sendPhotos();
followTheJob();
fetchLater();
askAgain();
checkSheets();

// An answer that the address points at is read aloud first.
const said = location.hash === "#said" ? document.getElementById("said") : document.getElementById("problems");
if (said) said.focus({ preventScroll: true });
