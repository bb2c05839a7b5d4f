// Run clocks: elapsed since or left until a moment, by the server's clock, not the tablet's.
const offset = Date.parse(document.body.dataset.now) - Date.now();

function words(seconds) {
  const whole = Math.floor(Math.abs(seconds) / 60);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
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
}

tick();
setInterval(tick, 1000);
document.addEventListener("htmx:afterSettle", tick);
