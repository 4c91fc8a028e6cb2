// Times of entries. A phone's clock may be wrong by hours: the server's time came with the page, and the difference
// between the two is taken off. One device's entries never run backwards.
const AHEAD = Number(document.body.dataset.clock) - Date.now();
const LAST = "evenpour.last";

export function now() {
  return Date.now() + AHEAD;
}

// Local time with this device's offset from UTC: 2026-05-03T10:12:00+02:00; `at`: a time by this device's clock.
export function stamp(at = Date.now()) {
  const moment = new Date(Math.max(at + AHEAD, Number(localStorage.getItem(LAST)) || 0));
  localStorage.setItem(LAST, String(moment.getTime()));
  const minutes = -moment.getTimezoneOffset();
  const two = (number) => String(Math.floor(Math.abs(number))).padStart(2, "0");
  const day = `${moment.getFullYear()}-${two(moment.getMonth() + 1)}-${two(moment.getDate())}`;
  const clock = `${two(moment.getHours())}:${two(moment.getMinutes())}:${two(moment.getSeconds())}`;
  return `${day}T${clock}${minutes < 0 ? "-" : "+"}${two(minutes / 60)}:${two(minutes % 60)}`;
}
