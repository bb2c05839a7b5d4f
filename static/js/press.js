// What lay under the finger as it came down is what is pressed, though the page moved before it was lifted.
const CAN_BE_PRESSED = "button, a[href], summary, label, input:is([type=radio], [type=checkbox])";
const STILL_PX = 16; // a finger that went farther meant something else
const pressedBy = (element) => element?.closest?.(CAN_BE_PRESSED);
let down = null;

function note(event) {
  const { isPrimary, button, target, clientX: x, clientY: y } = event;
  const isPress = isPrimary && button === 0;
  down = isPress ? { target, pressed: pressedBy(target), x, y, box: target.getBoundingClientRect() } : null;
}

function pageMoved({ target, box, x, y }, event) {
  const now = target.getBoundingClientRect();
  const stayed = target.isConnected && Math.hypot(now.x - box.x, now.y - box.y) < 1;
  return !stayed && Math.hypot(event.clientX - x, event.clientY - y) <= STILL_PX;
}

// The thing itself, or what was put in its place if that is the same to the letter.
function standing({ pressed, x, y }) {
  if (!pressed || pressed.isConnected) return pressed;
  const there = pressedBy(document.elementFromPoint(x, y));
  return there?.outerHTML === pressed.outerHTML ? there : null;
}

function settle(event) {
  const was = down;
  down = null;
  if (!was || was.pressed?.contains(event.target) || !pageMoved(was, event)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  standing(was)?.click();
}

addEventListener("pointerdown", note, true);
addEventListener("pointercancel", () => (down = null), true);
addEventListener("click", (event) => event.detail && settle(event), true); // by keys it has no detail
// a mouse whose thing is gone clicks nothing at all
addEventListener("pointerup", (event) => {
  if (event.pointerType === "mouse" && down && !down.target.isConnected) settle(event);
}, true);
