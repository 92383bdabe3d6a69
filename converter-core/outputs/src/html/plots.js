// One plot: series over an axis, with a reading by mouse, finger and keys.

const COLOURS = ["one", "two", "three", "four"];
const DASHES = [[], [7, 4], [2, 4], []];
const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
const hueOf = (series, index) => series.hue || COLOURS[index % 4];
const faded = (hex, part) => hex + Math.round(part * 255).toString(16).padStart(2, "0");
let drawn = [];

/** What is drawn behind is named last. */
const behindLast = (list, behind) => [...list.filter((one) => !behind(one)), ...list.filter(behind)];

/** Forgets and frees all plots of the page. */
function clearPlots() {
  drawn.forEach((plot) => plot.end());
  drawn = [];
}

/** Draws all plots anew, in the colours and the width of now. */
function redrawPlots() {
  drawn.forEach((plot) => plot.draw());
}

/**
 * A figure with a plot.
 *   title, summary   what it shows, in words
 *   x                positions along the axis, rising
 *   xWords(value)    a position in words
 *   axis, unit       how heights are made of values
 *   series           [{name, low, high, points, hidden, hue, thin}], a height or null for each position
 *   bands            [[index of upper series, index of lower one]] that are filled between
 *   marks            [{first, last, severity}] over positions
 *   group            plots of one name share zoom and cursor
 */
function plotFigure(spec) {
  const keys = make("ul", { class: "keys" });
  const order = spec.series.map((series, index) => [series, index]);
  behindLast(order, ([series]) => series.thin).forEach(([series, index]) => {
    if (!series.hidden) keys.append(make("li", {}, make("span", { class: `key ${hueOf(series, index)}${series.thin ? " band" : ""}${series.points ? " points" : ""}` }), series.title || series.name));
  });
  const reading = make("p", { class: "reading", "aria-live": "off" });
  const holder = make("div", {
    class: "plot", tabindex: "0", role: "group",
    "aria-label": `${spec.title}. ${spec.summary}. Left and right arrow keys read values, plus and minus zoom, 0 shows all.`,
  });
  const figure = make("figure", {},
    make("figcaption", {}, make("strong", {}, spec.title), spec.series.length > 1 ? keys : null), holder, reading);
  const plot = { spec, holder, reading, u: null };
  plot.end = () => { if (plot.u) plot.u.destroy(); plot.u = null; };
  plot.draw = () => {
    const range = plot.u && [plot.u.scales.x.min, plot.u.scales.x.max];
    plot.end();
    plot.u = new uPlot(optionsOf(plot), dataOfPlot(spec), holder);
    if (range) plot.u.setScale("x", { min: range[0], max: range[1] });
  };
  plot.zoom = (min, max) => {
    const [first, last] = [spec.x[0], spec.x[spec.x.length - 1]];
    const wide = Math.min(max - min, last - first);
    const from = Math.min(Math.max(min, first), last - wide);
    if (plot.u && wide > 0) plot.u.setScale("x", { min: from, max: from + wide });
  };
  holder.addEventListener("keydown", (event) => keyOnPlot(plot, event));
  // Plots of a group read along; only the one in use speaks.
  holder.addEventListener("focus", () => reading.setAttribute("aria-live", "polite"));
  holder.addEventListener("blur", () => reading.setAttribute("aria-live", "off"));
  drawn.push(plot);
  return { figure, plot };
}

function dataOfPlot(spec) {
  const columns = [spec.x];
  for (const series of spec.series) columns.push(series.low, series.high);
  return columns;
}

function optionsOf(plot) {
  const { spec, holder } = plot;
  const width = Math.max(240, holder.clientWidth || holder.parentElement.clientWidth || 600);
  const narrow = width < 500;
  const text = colour("text");
  const font = "12px Georgia, serif";
  const series = [{}];
  const bands = [];
  spec.series.forEach((one, index) => {
    const hue = hueOf(one, index);
    const stroke = colour(hue);
    const line = {
      scale: "y", stroke, width: one.thin ? 0.75 : 1.5, dash: one.thin ? [] : DASHES[COLOURS.indexOf(hue)], spanGaps: false,
      points: { show: Boolean(one.points), size: 9, stroke, fill: colour("ground") },
      paths: one.points === "only" ? () => null : undefined,
    };
    series.push({ ...line }, { ...line, points: { show: false } });
    bands.push({ series: [2 * index + 2, 2 * index + 1], fill: faded(stroke, 0.35) });
  });
  for (const [upper, lower] of spec.bands || []) {
    bands.push({ series: [2 * upper + 2, 2 * lower + 1], fill: faded(colour(hueOf(spec.series[upper], upper)), 0.22) });
  }
  const grid = { stroke: faded(colour("line"), 0.6), width: 1 };
  return {
    width, height: spec.height || (narrow ? 190 : 230), series, bands, legend: { show: false },
    cursor: { sync: spec.group ? { key: spec.group, scales: ["x", null] } : undefined, drag: { x: true, y: false }, points: { show: false } },
    scales: { x: { time: false }, y: { range: (u, low, high) => rangeOf(spec, low, high) } },
    axes: [
      { stroke: text, font, grid, ticks: grid, size: 34, space: narrow ? 70 : 90, values: (u, at) => at.map((v) => spec.xTick ? spec.xTick(v) : String(v)) },
      {
        scale: "y", stroke: text, font, grid, ticks: grid, size: 74,
        splits: (u, axis, low, high) => ticks(spec.axis, spec.unit, low, high, 7).map(([height]) => height),
        values: (u, at) => {
          const texts = ticks(spec.axis, spec.unit, u.scales.y.min, u.scales.y.max, 7);
          return at.map((height) => (texts.find(([h]) => h === height) || [0, ""])[1]);
        },
      },
    ],
    hooks: {
      drawAxes: [(u) => drawMarks(u, spec)],
      setCursor: [(u) => read(plot, u)],
      setScale: [(u, key) => { if (key === "x" && spec.group) follow(plot, u); }],
    },
  };
}

/** Some room above and below; infinity at the very edge. */
function rangeOf(spec, low, high) {
  if (spec.range) return spec.range;
  if (low == null || high == null) return [0, 1];
  const room = (high - low) * 0.06 || Math.abs(high) * 0.05 || 0.5;
  const bottom = spec.axis === "reciprocal" ? Math.max(0, low - room) : low - room;
  return [bottom, high + room];
}

/** Stretches of findings behind the traces, with a sign at the top that needs no colour. */
function drawMarks(u, spec) {
  const { ctx, bbox } = u;
  const scale = uPlot.pxRatio;
  const taken = [];
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  const grave = (mark) => ["note", "warning", "error"].indexOf(mark.severity);
  const marks = [...(spec.marks || [])].sort((a, b) => grave(a) - grave(b));
  // The graver one is painted over the other, and has its sign where there is room for one only.
  for (const mark of marks) {
    const from = u.valToPos(mark.first, "x", true);
    const wide = Math.max(u.valToPos(mark.last, "x", true) - from, 3 * scale);
    const hue = colour(mark.severity);
    ctx.fillStyle = faded(hue, 0.22);
    ctx.fillRect(from, bbox.top, wide, bbox.height);
    ctx.fillStyle = hue;
    ctx.fillRect(from, bbox.top, wide, 4 * scale);
  }
  for (const mark of marks.reverse()) {
    const from = u.valToPos(mark.first, "x", true);
    if (taken.some((at) => Math.abs(at - from) <= 13 * scale)) continue;
    ctx.font = `${11 * scale}px Georgia, serif`;
    ctx.textAlign = "left";
    ctx.textBaseline = "top";
    ctx.fillStyle = colour(mark.severity);
    ctx.fillText({ error: "■", warning: "▲", note: "●" }[mark.severity], from + scale, bbox.top + 5 * scale);
    taken.push(from);
  }
  ctx.restore();
}

/** Plots of a group show the same stretch. */
function follow(plot, u) {
  const { min, max } = u.scales.x;
  for (const other of drawn) {
    if (other === plot || other.spec.group !== plot.spec.group || !other.u) continue;
    const x = other.u.scales.x;
    if (x.min !== min || x.max !== max) other.u.setScale("x", { min, max });
  }
}

/** What the series say under the cursor. */
function read(plot, u) {
  const at = u.cursor.idx;
  const { spec } = plot;
  if (at == null) { plot.reading.textContent = ""; return; }
  const said = behindLast(spec.series, (series) => series.thin).map((series) => {
    const [low, high] = [series.low[at], series.high[at]];
    if (low == null) return null;
    const a = inWords(spec.axis, spec.unit, valueAt(spec.axis, low));
    const b = inWords(spec.axis, spec.unit, valueAt(spec.axis, high));
    return `${series.name} ${a === b ? a : spec.axis === "reciprocal" ? `${b} to ${a}` : `${a} to ${b}`}`;
  });
  plot.reading.textContent = [spec.xWords(spec.x[at], at), ...said.filter(Boolean)].join("; ");
}

function keyOnPlot(plot, event) {
  const u = plot.u;
  if (!u || event.ctrlKey || event.altKey || event.metaKey) return;
  const { min, max } = u.scales.x;
  const inside = plot.spec.x.length - 1;
  const at = u.cursor.idx ?? u.valToIdx((min + max) / 2);
  const moves = { ArrowLeft: -1, ArrowRight: 1, PageUp: -10, PageDown: 10, Home: -inside, End: inside };
  if (event.key in moves) {
    const next = Math.min(Math.max(at + moves[event.key], 0), inside);
    const x = plot.spec.x[next];
    if (x < min || x > max) plot.zoom(x - (max - min) / 2, x + (max - min) / 2);
    u.setCursor({ left: u.valToPos(x, "x"), top: u.over.clientHeight / 2 });
  } else if (event.key === "+" || event.key === "=") zoomBy(plot, 0.5);
  else if (event.key === "-") zoomBy(plot, 2);
  else if (event.key === "0") plot.zoom(-Infinity, Infinity);
  else return;
  event.preventDefault();
}

/** Zooms about the cursor, or the middle. */
function zoomBy(plot, factor) {
  const { min, max } = plot.u.scales.x;
  const at = plot.u.cursor.idx;
  const middle = at == null ? (min + max) / 2 : plot.spec.x[at];
  const half = (max - min) * factor / 2;
  plot.zoom(middle - half, middle + half);
}
