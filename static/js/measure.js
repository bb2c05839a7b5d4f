// Setting points on a photo: the picture moves under a fixed cross, so that no finger hides what is set.
// Points are [x, y] in pixels of the picture: the two ends of the scale, then pairs of surface and end of the case.
// Only drawn here; what they make is summed up by the server.
const SCALE_POINTS = 2;
const CLOSEST = 12; // pixels of the screen to one of the picture
const CLOSE_ENOUGH = 1; // a rim point set from farther off would be a guess
const TAP_CLOSER = 2;
const TAP_PX = 8;
const WHITE = "#ffffff", DARK = "#000000cc", SCALE = "#59c1ff", RIM = "#ffb13b";

function begin(room) {
  room.dataset.ready = "yes";
  const form = room.closest("form");
  const field = form.elements.taps;
  const canvas = room.querySelector("canvas");
  const brush = canvas.getContext("2d");
  const { own, src } = room.dataset;
  const size = { x: Number(room.dataset.width), y: Number(room.dataset.height) };
  const at = { x: size.x / 2, y: size.y / 2 };
  const picture = new Image();
  let points = [], next = 0, zoom = 0, hint = "";

  const farthest = () => Math.min(canvas.clientWidth / size.x, canvas.clientHeight / size.y);
  const within = (value, low, high) => Math.min(Math.max(value, low), high);
  const isOwn = () => form.elements.scale_of.value === "own";
  const placeOf = (index) => Math.floor((index - SCALE_POINTS) / 2) + 1;

  function words() {
    const known = isOwn() ? `the piece's own ${own}` : "what you know the length of";
    if (next === 0) return `Scale: put the cross on one end of ${known}.`;
    if (next === 1) return "Scale: now on its other end, straight across the middle.";
    const where = `Place ${placeOf(next)}`;
    return next % 2 ? `${where}: now where the case ends, straight in from the surface.` : `${where}: put the cross on the surface.`;
  }

  function say() {
    const line = room.querySelector(".next-point");
    const text = hint || words();
    if (line.textContent !== text) line.textContent = text;
    room.querySelector("[data-back]").disabled = !points.length;
    room.querySelector(".other-length").hidden = isOwn();
    room.querySelector("[data-scale-again]").hidden = points.length < SCALE_POINTS;
  }

  const onScreen = ([x, y]) => [(x - at.x) * zoom + canvas.clientWidth / 2, (y - at.y) * zoom + canvas.clientHeight / 2];

  function line(from, to, colour) {
    for (const [width, ink] of [[5, DARK], [2, colour]]) {
      brush.lineWidth = width;
      brush.strokeStyle = ink;
      brush.beginPath();
      brush.moveTo(...from);
      brush.lineTo(...to);
      brush.stroke();
    }
  }

  function mark(point, colour, label) {
    const [x, y] = onScreen(point);
    line([x - 7, y - 7], [x + 7, y + 7], colour);
    line([x - 7, y + 7], [x + 7, y - 7], colour);
    if (!label) return;
    brush.font = "700 15px system-ui, sans-serif";
    brush.lineWidth = 4;
    brush.strokeStyle = DARK;
    brush.strokeText(label, x + 11, y - 7);
    brush.fillStyle = colour;
    brush.fillText(label, x + 11, y - 7);
  }

  function draw() {
    const dots = window.devicePixelRatio || 1;
    const [wide, high] = [Math.round(canvas.clientWidth * dots), Math.round(canvas.clientHeight * dots)];
    if (canvas.width !== wide || canvas.height !== high) [canvas.width, canvas.height] = [wide, high];
    brush.setTransform(dots, 0, 0, dots, 0, 0);
    brush.clearRect(0, 0, canvas.clientWidth, canvas.clientHeight);
    if (picture.complete && picture.naturalWidth) {
      const [x, y] = onScreen([0, 0]);
      brush.drawImage(picture, x, y, size.x * zoom, size.y * zoom);
    }
    points.forEach((point, index) => {
      const isScale = index < SCALE_POINTS, isSecond = index % 2;
      if (isSecond) line(onScreen(points[index - 1]), onScreen(point), isScale ? SCALE : RIM);
      mark(point, isScale ? SCALE : RIM, isScale || isSecond ? "" : String(placeOf(index)));
    });
    const [x, y] = [canvas.clientWidth / 2, canvas.clientHeight / 2];
    for (const [dx, dy] of [[1, 0], [-1, 0], [0, 1], [0, -1]]) line([x + 5 * dx, y + 5 * dy], [x + 34 * dx, y + 34 * dy], WHITE);
    brush.fillStyle = WHITE;
    brush.fillRect(x - 1, y - 1, 2, 2);
  }

  // where the cross stands, for screen readers and for whoever sets points by program
  function show() {
    zoom = within(zoom || farthest(), farthest(), CLOSEST);
    at.x = within(at.x, 0, size.x);
    at.y = within(at.y, 0, size.y);
    Object.assign(room.dataset, { crossX: at.x.toFixed(2), crossY: at.y.toFixed(2), zoom: zoom.toFixed(4), next });
    say();
    draw();
  }

  function go([x, y], least = 0) {
    [at.x, at.y] = [x, y];
    zoom = Math.max(zoom, least);
    show();
  }

  function keep() {
    field.value = JSON.stringify(points);
    field.dispatchEvent(new Event("input", { bubbles: true }));
    show();
  }

  function read() {
    let kept = [];
    try {
      kept = JSON.parse(field.value || "[]");
    } catch {
      // a draft that is no list: begin anew
    }
    points = Array.isArray(kept) ? kept : [];
    next = points.length;
    show();
  }

  function set() {
    hint = "";
    if (next >= SCALE_POINTS && zoom < CLOSE_ENOUGH) {
      hint = "Closer first: look whether the cross lies right, then set the point.";
      return go([at.x, at.y], TAP_CLOSER);
    }
    points[next] = [Number(at.x.toFixed(1)), Number(at.y.toFixed(1))];
    next = next % 2 ? points.length : next + 1;
    keep();
    if (next < points.length) go(points[next]);
  }

  function back() {
    hint = "";
    if (next < points.length) next = points.length;
    else if (points.length) {
      [at.x, at.y] = points.pop();
      next = points.length;
    }
    keep();
  }

  function again(index) {
    hint = "";
    next = index;
    go(points[index], index < SCALE_POINTS ? 0 : TAP_CLOSER);
    canvas.scrollIntoView({ block: "center" });
  }

  function takeOut(place) {
    points.splice(SCALE_POINTS + 2 * place, 2);
    next = points.length;
    keep();
  }

  const closer = (factor) => {
    zoom = zoom * factor;
    if (zoom <= farthest()) [at.x, at.y] = [size.x / 2, size.y / 2]; // the whole picture, in the middle
    show();
  };
  const nudge = (dx, dy) => go([at.x + dx / zoom, at.y + dy / zoom]);

  room.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const told = button.dataset;
    if (told.nudge) nudge(...told.nudge.split(" ").map(Number));
    else if (told.zoom) closer(Number(told.zoom));
    else if ("set" in told) set();
    else if ("back" in told) back();
    else if ("scaleAgain" in told) again(0);
    else if (told.again) again(SCALE_POINTS + 2 * Number(told.again));
    else if (told.out) takeOut(Number(told.out));
  });

  canvas.addEventListener("keydown", (event) => {
    const by = event.shiftKey ? 10 : 1;
    const keys = {
      ArrowLeft: () => nudge(-by, 0), ArrowRight: () => nudge(by, 0), ArrowUp: () => nudge(0, -by), ArrowDown: () => nudge(0, by),
      "+": () => closer(1.6), "=": () => closer(1.6), "-": () => closer(0.625), Enter: set, Backspace: back,
    };
    if (!keys[event.key]) return;
    event.preventDefault();
    keys[event.key]();
  });
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return; // the wheel alone scrolls the page
    event.preventDefault();
    closer(event.deltaY < 0 ? 1.2 : 1 / 1.2);
  }, { passive: false });

  drag(canvas, {
    tap: ([x, y]) => {
      const box = canvas.getBoundingClientRect();
      const [dx, dy] = [x - box.left - box.width / 2, y - box.top - box.height / 2];
      go([at.x + dx / zoom, at.y + dy / zoom], TAP_CLOSER);
    },
    move: (dx, dy) => go([at.x - dx / zoom, at.y - dy / zoom]),
    pinch: closer,
  });

  form.addEventListener("change", (event) => (event.target === form ? read() : say()));
  new ResizeObserver(show).observe(canvas);
  picture.addEventListener("load", show);
  picture.src = src;
  read();
}

// One finger moves the picture, two bring it closer, a short tap brings the spot under the cross.
function drag(canvas, act) {
  const down = new Map();
  let moved = 0;
  const span = () => {
    const [one, other] = [...down.values()];
    return Math.hypot(one[0] - other[0], one[1] - other[1]);
  };
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    if (!down.size) moved = 0;
    down.set(event.pointerId, [event.clientX, event.clientY]);
    if (down.size > 1) moved = Infinity;
  });
  canvas.addEventListener("pointermove", (event) => {
    const from = down.get(event.pointerId);
    if (!from) return;
    const to = [event.clientX, event.clientY];
    const before = down.size === 2 ? span() : 0;
    down.set(event.pointerId, to);
    if (before) act.pinch(span() / before);
    const [dx, dy] = [(to[0] - from[0]) / down.size, (to[1] - from[1]) / down.size];
    moved += Math.hypot(dx, dy);
    if (moved > TAP_PX) act.move(dx, dy);
  });
  const up = (event) => {
    const from = down.get(event.pointerId);
    down.delete(event.pointerId);
    if (from && event.type === "pointerup" && moved <= TAP_PX) act.tap(from);
  };
  for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, up);
}

function start() {
  for (const room of document.querySelectorAll("[data-measure]:not([data-ready])")) begin(room);
}
document.addEventListener("htmx:afterSettle", start);
start();

// points that were restored from this tablet are summed up too, once the scripts that ask are there
document.addEventListener("DOMContentLoaded", () => {
  for (const room of document.querySelectorAll("[data-measure]")) {
    if (room.dataset.next !== "0") room.closest("form").dispatchEvent(new Event("change", { bubbles: true }));
  }
});
