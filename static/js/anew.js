// A page whose figures have grown old is fetched anew by itself, but never out of a hand: while something is pressed,
// typed, opened or read off, or was a moment ago, it only offers to.
const REST_MS = 3000; // a hand that was still for so long is not about to press
const LOOK_MS = 500;
const OPEN = "details[open], :popover-open, .readout a";
const SIGNS = ["pointerdown", "pointermove", "pointerup", "pointercancel", "wheel", "scroll", "keydown", "input"];
const cameOpen = new Set(document.querySelectorAll(OPEN));
const down = new Set();
let [seenAt, isTyped, isLeaving] = [performance.now(), false, false];

function note({ type, pointerId }) {
  seenAt = performance.now();
  isTyped ||= type === "input";
  if (type === "pointerdown") down.add(pointerId);
  if (type === "pointerup" || type === "pointercancel") down.delete(pointerId);
  // a press that comes while the new page is on its way is meant for this one
  if (isLeaving && (type === "pointerdown" || type === "keydown")) {
    isLeaving = false;
    globalThis.stop();
  }
}

function isInUse() {
  const isOpened = [...document.querySelectorAll(OPEN)].some((one) => !cameOpen.has(one));
  const hasCursor = document.activeElement?.matches("input, select, textarea");
  return down.size > 0 || isTyped || hasCursor || isOpened || performance.now() - seenAt < REST_MS;
}

setInterval(() => {
  if (isLeaving || !document.querySelector("[data-anew]") || isInUse()) return;
  isLeaving = true;
  location.reload();
}, LOOK_MS);
for (const sign of SIGNS) addEventListener(sign, note, { capture: true, passive: true });
