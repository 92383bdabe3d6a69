// Elements, and values in words.

/** An element with attributes and children; texts are texts, never markup. */
function make(name, attributes, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes || {})) {
    if (value === true) element.setAttribute(key, "");
    else if (value !== false && value != null) element.setAttribute(key, value);
  }
  element.append(...children.filter((child) => child != null));
  return element;
}

const byId = (id) => document.getElementById(id);
const dataOf = (id) => JSON.parse(byId(id).textContent);
const plural = (count, noun) => `${count} ${noun}${count === 1 ? "" : "s"}`;

/** As many decimals as three digits, or `digits`, need. */
function plain(value, digits = 3) {
  if (value === 0) return "0";
  const places = Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value))));
  const text = value.toFixed(Math.min(places, 8));
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}

/** Metres in feet and inches, to a quarter of an inch below 10 ft. */
function imperial(metres) {
  const inches = metres / 0.0254;
  const step = inches < 120 ? 4 : 1;
  const rounded = Math.round(inches * step) / step;
  const feet = Math.floor(rounded / 12);
  const rest = plain(rounded - feet * 12, 4);
  return feet > 0 ? `${feet}'${rest}"` : `${rest}"`;
}

/** The value at a height of an axis. */
function valueAt(axis, height) {
  if (axis === "reciprocal") return height <= 0 ? Infinity : 1 / height;
  return axis === "stops" ? 2 ** height : height;
}

/** A value in words. */
function inWords(axis, unit, value) {
  if (value === Infinity) return "∞";
  if (axis === "reciprocal") return `${plain(value)} m (${imperial(value)})`;
  if (unit === "T") return `T${plain(value)}`;
  if (unit === "f") return `f/${plain(value)}`;
  if (unit === "0..1" || unit === "") return plain(value, 4);
  return `${plain(value, 4)} ${unit}`;
}

/** Values of an axis between two heights, at most about `most`, with the texts that stand there. */
function ticks(axis, unit, low, high, most) {
  const texts = [];
  const put = (height, text) => { if (height >= low - 1e-9 && height <= high + 1e-9) texts.push([height, text]); };
  if (axis === "plain") {
    const rough = (high - low) / most || 1;
    const power = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((s) => s * power).find((s) => s >= rough);
    for (let k = Math.ceil(low / step - 1e-9); k * step <= high + step * 1e-6; k += 1) {
      put(k * step, String(Number((k * step).toPrecision(10))));
    }
  } else if (axis === "stops") {
    const names = [1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64];
    const every = Math.max(1, Math.ceil((high - low) * 2 / most));
    names.forEach((name, k) => { if (k % every === 0) put(k / 2, String(name)); });
    if (texts.length < 2) {
      // Thirds of a stop, as barrels and meters name them.
      texts.length = 0;
      for (let k = Math.ceil(low * 6); k <= high * 6; k += 1) put(k / 6, plain(2 ** (k / 6), 2));
    }
    if (texts.length < 2) return ticksOfLog(low, high);
  } else {
    // Round distances, the near ones first: they lie far apart.
    const round = [0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 7, 10, 15, 20, 30, 50, 100];
    const apart = (high - low) / most;
    let last = Infinity;
    for (const metres of round) {
      const height = 1 / metres;
      if (height <= high && height >= low && last - height >= apart && (low > 0 || height >= 0.6 * apart)) {
        put(height, String(metres));
        last = height;
      }
    }
    if (low <= 1e-9) put(0, "∞");
    if (texts.length < 2) {
      return [low, (low + high) / 2, high].map((height) => [height, plain(valueAt(axis, height), 4)]);
    }
  }
  return texts;
}

function ticksOfLog(low, high) {
  return [low, (low + high) / 2, high].map((height) => [height, plain(2 ** height, 3)]);
}
