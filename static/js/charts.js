// Draws the charts of a page from their JSON: bands, rules, lines, points with their give or take, and a touch readout.
// Colours are the page's own custom properties, so day and night need no second drawing.
const { Plot, d3 } = globalThis;
const SCRIPT_STYLE = "style"; // the inline sheet that Plot writes; our chart.css holds its rules instead
const tone = (name) => `var(--${name})`;
const drawn = new WeakMap();

function rows(series, ...names) {
  return series.x.map((x, index) => {
    const row = { x, words: series.words?.[index] ?? series.name, link: series.links?.[index] };
    for (const name of names) row[name] = series[name]?.[index] ?? null;
    return row;
  });
}

function ruleMark(rule) {
  const mark = { stroke: tone(rule.tone), strokeWidth: 1.5, strokeDasharray: "6 5" };
  return rule.across === "y" ? Plot.ruleY([rule.at], mark) : Plot.ruleX([rule.at], mark);
}

// Words lie on top of every line, with a rim of paper around them, so that a line through them does not hide them.
function ruleWords(rule) {
  const text = { text: [rule.words], fill: tone(rule.tone), fontSize: 13, fontWeight: 600, stroke: tone("sheet"), strokeWidth: 5 };
  if (rule.across === "y") {
    return Plot.text([rule.at], { ...text, y: (at) => at, frameAnchor: "right", textAnchor: "end", dy: -9, dx: -4 });
  }
  return Plot.text([rule.at], { ...text, x: (at) => at, frameAnchor: "top", textAnchor: "start", dx: 6, dy: 2 });
}

function bandMark(band) {
  return Plot.areaY(rows(band, "low", "high"), {
    x: "x", y1: "low", y2: "high", fill: tone(band.tone), fillOpacity: 0.2, curve: "monotone-x",
  });
}

function lineMark(line) {
  return Plot.lineY(rows(line, "y"), {
    x: "x", y: "y", stroke: tone(line.tone), strokeWidth: 2.75, curve: "monotone-x",
    strokeDasharray: line.dotted ? (line.dashed ? "12 5 2 5" : "2 5") : (line.dashed ? "7 6" : null),
  });
}

function pointMarks(points) {
  const data = rows(points, "y", "low", "high");
  const barred = data.filter((row) => row.low !== null && row.high !== null);
  return [
    Plot.ruleX(barred, { x: "x", y1: "low", y2: "high", stroke: tone(points.tone), strokeWidth: 1.75, marker: "tick" }),
    Plot.dot(data, { x: "x", y: "y", r: 5, symbol: points.shape, fill: tone(points.tone), stroke: tone("sheet"), strokeWidth: 1.5 }),
  ];
}

function scaleOf(axis, values) {
  const ends = d3.extent(values);
  const low = axis.low ?? ends[0];
  const high = axis.high ?? ends[1];
  const room = axis.high === null ? (high - low || 1) * 0.06 : 0;
  return [low, high + room];
}

function every(chart, ...names) {
  return [...chart.lines, ...chart.bands, ...chart.points]
    .flatMap((series) => names.flatMap((name) => series[name] ?? []))
    .filter((value) => value !== null);
}

function across(chart, axis) {
  return chart.rules.filter((rule) => rule.across === axis).map((rule) => rule.at);
}

const day = d3.utcFormat("%-d %b %Y");
const show = (value, axis) => (axis.is_date ? day(new Date(value * 864e5)) : `${value.toFixed(axis.digits)}${axis.unit ? ` ${axis.unit}` : ""}`);

// Breaks words into lines of at most so many letters; a longer word stands alone.
function inLines(words, letters) {
  return words.split(" ").reduce((lines, word) => {
    const last = lines.at(-1);
    if (last !== undefined && last.length + word.length < letters) return [...lines.slice(0, -1), `${last} ${word}`];
    return [...lines, word];
  }, []).join("\n");
}

function namesIn(axis, width) {
  const letters = Math.max(8, Math.floor((width - 70) / axis.names.length / 8));
  return axis.names.map((name) => inLines(name, letters));
}

function mostLines(axis, width) {
  return Math.max(...namesIn(axis, width).map((name) => name.split("\n").length));
}

// Round values that lie some way apart on an axis of roots.
function rootTicks(axis, width) {
  const apart = 42 / Math.max(width - 70, 200);
  const places = [0, 0.5, 1, 2, 3, 4, 6, 8, 10, 12, 16, 20, 24, 36, 48].filter((value) => value <= axis.high);
  return places.reduce((kept, value) => (
    kept.length && Math.sqrt(value / axis.high) - Math.sqrt(kept.at(-1) / axis.high) < apart ? kept : [...kept, value]
  ), []);
}

// Words or days in place of numbers; few enough that they do not run into one another.
function ticksOf(axis, width) {
  if (axis.names.length) {
    const named = namesIn(axis, width);
    return { ticks: d3.range(1, named.length + 1), tickFormat: (place) => named[place - 1] };
  }
  if (axis.by_root) return { type: "sqrt", ticks: rootTicks(axis, width), tickFormat: String };
  const most = width < 480 ? (axis.is_date ? 3 : 5) : (axis.is_date ? 5 : 8);
  const isCount = axis.digits === 0 && axis.low !== null && axis.high !== null;
  const ticks = isCount ? Math.min(most, axis.high - axis.low) : most; // no half fires
  return axis.is_date ? { ticks, tickFormat: (value) => day(new Date(value * 864e5)) } : { ticks };
}

function plot(chart, width) {
  const label = (axis) => (axis.unit ? `${axis.label}, ${axis.unit}` : axis.label);
  return Plot.plot({
    className: "cw-plot",
    width,
    height: Math.round(Math.max(240, Math.min(380, width * 0.52))),
    marginLeft: 54, marginRight: 16, marginTop: 30, marginBottom: chart.x.names.length ? 30 + 16 * mostLines(chart.x, width) : 46,
    style: { fontSize: "14px", background: "none", color: "inherit" },
    x: { label: chart.x.names.length ? null : label(chart.x), domain: scaleOf(chart.x, [...every(chart, "x"), ...across(chart, "x")]), labelArrow: "none", labelAnchor: "right", ...ticksOf(chart.x, width) },
    y: { label: label(chart.y), domain: scaleOf(chart.y, [...every(chart, "y", "low", "high"), ...across(chart, "y")]), labelArrow: "none", ticks: 6 },
    marks: [
      Plot.gridY({ stroke: tone("rule"), strokeOpacity: 1 }),
      Plot.ruleY([scaleOf(chart.y, [...every(chart, "y", "low", "high"), ...across(chart, "y")])[0]], { stroke: tone("edge") }),
      chart.bands.map(bandMark),
      chart.rules.map(ruleMark),
      chart.lines.map(lineMark),
      chart.points.flatMap(pointMarks),
      chart.rules.map(ruleWords),
    ],
  });
}

function at(series, name, x) {
  const index = d3.bisector((value) => value).left(series.x, x);
  const [x0, x1] = [series.x[index - 1], series.x[index]];
  const [y0, y1] = [series[name][index - 1], series[name][index]];
  if (x1 === x) return y1;
  if ([x0, x1, y0, y1].some((value) => value === undefined || value === null)) return null;
  return y0 + ((y1 - y0) * (x - x0)) / (x1 - x0);
}

function reading(chart, x) {
  if (chart.x.names.length) return "";
  const found = chart.lines.filter((line) => line.named).map((line) => [line.name, at(line, "y", x)]);
  const bands = chart.bands.map((band) => [band.name, at(band, "low", x), at(band, "high", x)]);
  return [
    `${chart.x.label} ${show(x, chart.x)}`,
    ...found.filter(([, y]) => y !== null).map(([name, y]) => `${name} ${show(y, chart.y)}`),
    ...bands.filter(([, low, high]) => low !== null && high !== null)
      .map(([name, low, high]) => `${name} ${low.toFixed(chart.y.digits)} to ${show(high, chart.y)}`),
  ].join(" · ");
}

function nearestPoint(chart, svg, x, y) {
  const [sx, sy] = [svg.scale("x"), svg.scale("y")];
  let best = null;
  for (const points of chart.points) {
    for (const row of rows(points, "y")) {
      if (row.y === null) continue;
      const away = Math.hypot(sx.apply(row.x) - x, sy.apply(row.y) - y);
      if (away < 24 && (!best || away < best.away)) best = { away, row };
    }
  }
  return best?.row;
}

function listen(holder, chart) {
  const readout = holder.parentElement.querySelector(".readout");
  // A mouse has read the words before it clicks; a finger has not, and gets them with the way to the piece.
  const open = (event, link) => {
    if (event.pointerType !== "touch") return globalThis.location.assign(link);
    const way = Object.assign(document.createElement("a"), { href: link, textContent: readout.textContent, tabIndex: -1 });
    readout.replaceChildren(way);
  };
  const look = (event) => {
    const svg = drawn.get(holder)?.svg;
    if (!svg) return;
    const box = svg.getBoundingClientRect();
    const zoom = svg.viewBox.baseVal.width / box.width;
    const [px, py] = [(event.clientX - box.left) * zoom, (event.clientY - box.top) * zoom];
    const scale = svg.scale("x");
    const x = Math.min(Math.max(scale.invert(px), scale.domain[0]), scale.domain[1]);
    const point = nearestPoint(chart, svg, px, py);
    readout.textContent = point ? `${point.words}: ${show(point.y, chart.y)}` : reading(chart, x);
    holder.classList.toggle("opens", Boolean(point?.link));
    if (event.type === "click" && point?.link) open(event, point.link);
  };
  holder.addEventListener("pointermove", look);
  holder.addEventListener("pointerdown", look);
  holder.addEventListener("click", look);
}

function draw(holder) {
  const source = document.getElementById(holder.dataset.chart);
  const width = Math.floor(holder.clientWidth);
  if (!source || !width || drawn.get(holder)?.width === width) return;
  const chart = JSON.parse(source.textContent);
  if (!drawn.has(holder)) listen(holder, chart);
  const svg = plot(chart, width);
  for (const sheet of svg.querySelectorAll(SCRIPT_STYLE)) sheet.remove();
  svg.setAttribute("role", "img");
  svg.setAttribute("aria-label", chart.says);
  for (const part of svg.children) part.setAttribute("aria-hidden", "true");
  drawn.set(holder, { width, svg });
  holder.replaceChildren(svg);
}

const widths = new ResizeObserver((entries) => entries.forEach((entry) => draw(entry.target)));

function drawAll() {
  for (const holder of document.querySelectorAll("[data-chart]")) {
    draw(holder);
    widths.observe(holder);
  }
}

document.addEventListener("htmx:afterSettle", drawAll);
drawAll();
