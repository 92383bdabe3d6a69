// The scales of a lens: curve, marks, and how far each mark is off.

const QUANTITIES = { "focus-distance": "Focus distance in metres", "t-stop": "T-stop", "f-number": "f-number", "focal-length": "Focal length in mm" };

function lensSection(page, index) {
  const lens = page.pictures.lenses[index];
  const section = make("section", {}, make("h3", {}, `Lens ${page.lenses[index]}`), factsList(lens.facts));
  section.plots = [];
  for (const ring of lens.rings) {
    section.append(make("h4", {}, ring.title), factsList(ring.facts));
    if (ring.problem) section.append(make("p", {}, `No curve: ${ring.problem}.`));
    ringPlots(ring, section);
    section.append(marksTable(ring));
  }
  return section;
}

/** The curve with its marks; below, how far each mark is off. */
function ringPlots(ring, section) {
  // Marks have places of their own between those of the curve.
  const places = new Map();
  const put = (position, key, value) => {
    if (!places.has(position)) places.set(position, {});
    places.get(position)[key] = value;
  };
  ring.positions.forEach((position, k) => {
    put(position, "curve", ring.curve[k]);
    put(position, "low", ring.band[0][k]);
    put(position, "high", ring.band[1][k]);
  });
  for (const mark of ring.marks) {
    put(mark.position, "mark", mark.height);
    put(mark.position, "name", mark.name);
    if (mark.off != null) put(mark.position, "off", mark.off);
  }
  const x = [...places.keys()].sort((a, b) => a - b);
  if (x.length < 2) return;
  const column = (key) => x.map((position) => places.get(position)[key] ?? null);
  const bridged = (key) => bridge(x, column(key));
  const shared = { x, xTick: (v) => String(Number(v.toFixed(4))), group: null };
  const named = (v) => {
    const name = places.get(v).name;
    return `position ${v.toFixed(4)}${name ? `, mark ${name}` : ""}`;
  };
  const marks = column("mark");
  const curve = bridged("curve");
  const series = [{ name: "marks", low: marks, high: marks, points: "only" }];
  if (ring.positions.length > 1) {
    // Of a reciprocal axis the upper height is that of the nearer end.
    const ends = [bridged("low"), bridged("high")];
    const [low, high] = ring.axis === "reciprocal" ? [ends[1], ends[0]] : ends;
    series.push({ name: "curve", title: "curve with its 95 % band", low: curve, high: curve }, { name: "95 % band", low, high, hidden: true, hue: "two", thin: true });
  }
  const add = (spec) => {
    const { figure, plot } = plotFigure(spec);
    section.append(figure);
    section.plots.push(plot);
  };
  add({
    ...shared, title: `${QUANTITIES[ring.quantity]} over ring position`,
    summary: `${plural(ring.marks.length, "mark")}; the table below holds them`, series, axis: ring.axis, unit: ring.unit, xWords: named, height: 260,
  });
  const off = column("off");
  const most = Math.max(...off.map((v) => Math.abs(v ?? 0)));
  if (off.some((v) => v != null)) {
    const zero = x.map(() => 0);
    add({
      ...shared, title: "How far each mark is off the curve, in ring travel",
      summary: `at most ${plain(most)} of the travel`, axis: "plain", unit: "", xWords: named, height: 150,
      range: [-(most || 0.001) * 1.2, (most || 0.001) * 1.2],
      series: [{ name: "marks", low: off, high: off, points: "only" }, { name: "curve", low: zero, high: zero, hidden: true }],
    });
  }
}

/** Straight lines over places that only other columns have; none beyond the ends. */
function bridge(x, values) {
  const filled = values.slice();
  let last = -1;
  values.forEach((value, k) => {
    if (value == null) return;
    if (last >= 0) {
      for (let between = last + 1; between < k; between += 1) {
        const part = (x[between] - x[last]) / (x[k] - x[last]);
        filled[between] = values[last] + (value - values[last]) * part;
      }
    }
    last = k;
  });
  return filled;
}

function marksTable(ring) {
  const [head, ...rows] = ring.table;
  if (!head) return "";
  return make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": `Marks of the ${ring.title}` },
    make("table", {},
      make("thead", {}, make("tr", {}, ...head.map((cell) => make("th", { scope: "col" }, cell)))),
      make("tbody", {}, ...rows.map((row) => make("tr", {}, ...row.map((cell) => make("td", {}, cell)))))));
}
