// Run clocks: elapsed since or left until a moment, by the server's clock, not the tablet's.
const DUE = "DUE · ";
let offset = Date.parse(document.body.dataset.now) - Date.now();
let wasDue = false;

function words(seconds) {
  const whole = Math.floor(Math.abs(seconds) / 60);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

// A word with a shape, the page's title, and whoever wants to ring: all from the one moment.
function showDue(now) {
  let isDue = false;
  for (const word of document.querySelectorAll("[data-due]")) {
    word.hidden = now < Date.parse(word.dataset.due);
    isDue ||= !word.hidden;
  }
  const plain = document.title.startsWith(DUE) ? document.title.slice(DUE.length) : document.title;
  const title = isDue ? DUE + plain : plain;
  if (title !== document.title) document.title = title;
  if (isDue !== wasDue) document.dispatchEvent(new CustomEvent("casewright:due", { detail: isDue }));
  wasDue = isDue;
}

function tick() {
  const now = Date.now() + offset;
  for (const clock of document.querySelectorAll("[data-since]")) {
    clock.textContent = words((now - Date.parse(clock.dataset.since)) / 1000);
  }
  for (const clock of document.querySelectorAll("[data-until]")) {
    const left = (Date.parse(clock.dataset.until) - now) / 1000;
    clock.textContent = left < 0 ? `${words(left)} over` : words(left);
    clock.classList.toggle("over", left < 0);
  }
  showDue(now);
}

// the server said what time it is: a tablet's own clock may have been put right, or have stopped in its sleep
document.addEventListener("casewright:time", (event) => {
  offset = event.detail - Date.now();
  tick();
});
document.addEventListener("visibilitychange", tick);
document.addEventListener("htmx:afterSettle", tick);
setInterval(tick, 1000);
tick();
