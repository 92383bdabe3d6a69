// The traces of a take.

const PANELS = [
  { title: "Focus distance", note: "metres, near is up", channels: ["near-limit", "far-limit", "focus-distance", "rangefinder-distance"] },
  { title: "Stop", note: "by stops", channels: ["t-stop", "f-number"] },
  { title: "Focal length", note: "mm", channels: ["nominal-focal-length", "effective-focal-length", "pinhole-focal-length"] },
  { title: "Rings", note: "0 to 1 over the encoder range", channels: ["focus-ring", "iris-ring", "zoom-ring"] },
  { title: "Rings as the encoder counts", note: "", channels: ["focus-ring-raw", "iris-ring-raw", "zoom-ring-raw"] },
];

/** Whole steps from base64: two bytes each, the lower one first; a single one stands for all. */
function stepsOf(text, count) {
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const view = new DataView(bytes.buffer);
  return Array.from({ length: count }, (_, k) => view.getInt16(bytes.length === 2 ? 0 : 2 * k, true));
}

/** Heights of the lower and upper end of each stretch. */
function heights(take, channel) {
  const [lower, more] = [channel.low, channel.more].map((text) => stepsOf(text, stretches(take)));
  const low = lower.map((step) => step < 0 ? null : channel.base + step * channel.size);
  const high = lower.map((step, k) => step < 0 ? null : channel.base + (step + more[k]) * channel.size);
  return { low, high };
}

/** How many stretches a take has. */
function stretches(take) {
  return Math.ceil(take.frames / take.each);
}

/** Frames by number where numbers are recorded, else counted from 0. */
function frameWords(take, from, to) {
  const first = take.first_number ?? 0;
  const counted = take.first_number == null ? " counted from 0" : "";
  return from === to ? `frame ${from + first}${counted}` : `frames ${from + first} to ${to + first}${counted}`;
}

/** Near and far limit are the edges of one band. */
function seriesOf(take, channel) {
  const limit = channel.name === "near-limit" || channel.name === "far-limit";
  const [name, ...how] = channel.title.split(",");
  return {
    name, title: limit ? ["depth of field", ...how].join(",") : channel.title, hidden: channel.name === "far-limit",
    hue: { "near-limit": "three", "far-limit": "three", "focus-distance": "one", "rangefinder-distance": "two" }[channel.name],
    thin: limit, ...heights(take, channel),
  };
}

function takeSection(page, index, findings) {
  const take = page.pictures.takes[index];
  const section = make("section", {}, make("h3", {}, `Take ${page.takes[index]}`), factsList([["frames", take.frames], ...take.facts]));
  if (take.channels.length === 0) {
    section.append(make("p", {}, "No focus distance, stop, focal length or ring position is recorded: there is nothing to draw."));
    return section;
  }
  const x = Array.from({ length: stretches(take) }, (_, k) => k * take.each + (Math.min(take.frames - k * take.each, take.each) - 1) / 2);
  const marks = findings.filter((f) => f.frames && f.frames[0] === index)
    .map((f) => ({ first: f.frames[1] - 0.5, last: f.frames[2] + 0.5, severity: f.severity }))
    .reverse();
  const plots = [];
  const bar = zoomBar(() => plots[0]);
  section.append(bar);
  for (const panel of PANELS) {
    const channels = panel.channels.map((name) => take.channels.find((c) => c.name === name)).filter(Boolean);
    if (channels.length === 0) continue;
    const series = channels.map((channel) => seriesOf(take, channel));
    const at = (name) => channels.findIndex((c) => c.name === name);
    const bands = at("near-limit") >= 0 && at("far-limit") >= 0 ? [[at("near-limit"), at("far-limit")]] : [];
    const summary = behindLast(channels, (c) => c.name.endsWith("-limit")).map((c) => `${c.title}: ${c.words}, recorded in ${c.recorded} of ${plural(take.frames, "frame")}`).join(". ");
    const { figure, plot } = plotFigure({
      title: panel.note ? `${panel.title} (${panel.note})` : panel.title, summary, x, series, bands, marks,
      axis: channels[0].axis, unit: channels[0].unit, group: `take-${index}`,
      xTick: (v) => Number.isInteger(v) ? String(v + (take.first_number ?? 0)) : "",
      xWords: (v, k) => frameWords(take, k * take.each, Math.min((k + 1) * take.each, take.frames) - 1),
    });
    plots.push(plot);
    figure.append(valuesTable(take, channels, series, summary, panel.title));
    section.append(figure);
  }
  if (take.each > 1) {
    bar.append(make("span", { class: "faint" }, `Each point stands for ${take.each} frames: the smallest and the largest value.`));
  }
  section.plots = plots;
  return section;
}

/** Buttons for what wheel and drag do. */
function zoomBar(plotOf) {
  const bar = make("div", { class: "bar", role: "group", "aria-label": "Zoom of the traces" });
  const move = (part) => {
    const { min, max } = plotOf().u.scales.x;
    plotOf().zoom(min + (max - min) * part, max + (max - min) * part);
  };
  const actions = [
    ["Zoom in", () => zoomBy(plotOf(), 0.5)], ["Zoom out", () => zoomBy(plotOf(), 2)],
    ["Earlier", () => move(-0.5)], ["Later", () => move(0.5)], ["All", () => plotOf().zoom(-Infinity, Infinity)],
  ];
  for (const [name, action] of actions) {
    const button = make("button", { type: "button" }, name);
    button.addEventListener("click", action);
    bar.append(button);
  }
  return bar;
}

/** The traces as a table of a few stretches, made when it is opened. */
function valuesTable(take, channels, series, summary, title) {
  const details = make("details", {}, make("summary", {}, "In words and as a table"), make("p", {}, `${summary}.`));
  details.addEventListener("toggle", () => {
    if (!details.open || details.querySelector("table")) return;
    const count = series[0].low.length;
    const rows = Math.min(24, count);
    const head = make("tr", {}, make("th", { scope: "col" }, "Frames"), ...channels.map((c) => make("th", { scope: "col" }, c.title)));
    const body = make("tbody", {});
    for (let row = 0; row < rows; row += 1) {
      const [from, to] = [Math.floor(row * count / rows), Math.floor((row + 1) * count / rows)];
      const last = Math.min(to * take.each, take.frames) - 1;
      const cells = series.map((one, k) => {
        const lows = one.low.slice(from, to).filter((h) => h != null);
        const highs = one.high.slice(from, to).filter((h) => h != null);
        if (lows.length === 0) return make("td", {}, "not recorded");
        const { axis, unit } = channels[k];
        const ends = [Math.min(...lows), Math.max(...highs)].map((h) => inWords(axis, unit, valueAt(axis, h)));
        if (axis === "reciprocal") ends.reverse();
        return make("td", {}, ends[0] === ends[1] ? ends[0] : `${ends[0]} to ${ends[1]}`);
      });
      body.append(make("tr", {}, make("th", { scope: "row" }, frameWords(take, from * take.each, last)), ...cells));
    }
    details.append(make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": `${title} as a table` },
      make("table", {}, make("thead", {}, head), body)));
  });
  return details;
}
