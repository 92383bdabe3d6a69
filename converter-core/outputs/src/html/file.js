// One file: its findings, takes and lenses.

const rules = dataOf("rules");

function factsList(facts) {
  const list = make("dl", { class: "facts" });
  for (const [name, value] of facts) list.append(make("dt", {}, name), make("dd", {}, String(value)));
  return list;
}

/** Shows the file of a row; `finding` is brought into view. */
function openFile(index, finding) {
  const one = byId("one");
  clearPlots();
  one.replaceChildren();
  const page = dataOf(`d${index}`);
  const close = make("button", { type: "button" }, "Close");
  close.addEventListener("click", () => { location.hash = `#r${index}`; });
  const title = make("h2", { id: "one-title", tabindex: "-1" }, page.takes.concat(page.lenses)[0] || page.file);
  const down = make("a", { href: `#f${index}-0` }, `${plural(page.findings.length, "finding")}, below`);
  one.append(title, make("div", { class: "bar" }, close, ...neighbours(index), page.findings.length > 0 ? down : ""), make("p", { class: "faint" }, page.file));
  if (page.failure) one.append(failureOf(page.failure));
  const sections = [];
  if (page.pictures) {
    page.pictures.takes.forEach((_, k) => sections.push(takeSection(page, k, page.findings)));
    page.pictures.lenses.forEach((lens, k) => { if (lens.rings.length > 0) sections.push(lensSection(page, k)); });
  }
  one.append(...sections, findingsList(index, page, (item) => showOnPlots(item, sections)));
  one.hidden = false;
  redrawPlots();
  const wanted = finding == null ? null : byId(`f${index}-${finding}`);
  (wanted || one).scrollIntoView();
  title.focus({ preventScroll: true });
}

/** Links to the files before and after in the order of the table. */
function neighbours(index) {
  const rows = [...document.querySelectorAll("#files tbody tr:not([hidden])")];
  const at = rows.findIndex((row) => row.id === `r${index}`);
  const to = (row, words) => row && make("a", { href: `#f${row.id.slice(1)}` }, words);
  return [to(rows[at - 1], "Previous"), to(rows[at + 1], "Next")].filter(Boolean);
}

function failureOf(failure) {
  const lines = failure.message.split("\n").map((line) => make("p", {}, line));
  return make("div", {}, make("h3", { class: "error" }, "Not read to the end"), ...lines,
    failure.place ? make("p", { class: "faint" }, failure.place) : null, failure.help ? make("p", {}, `Help: ${failure.help}`) : null);
}

function findingsList(index, page, show) {
  const section = make("section", {}, make("h3", {}, page.findings.length === 0 ? "No findings" : plural(page.findings.length, "finding")));
  const list = make("ol", { class: "findings" });
  page.findings.forEach((item, k) => list.append(findingItem(index, k, item, page, show)));
  section.append(list);
  if (page.left_out > 0) section.append(make("p", {}, `${plural(page.left_out, "more finding")} left out: there are too many.`));
  for (const item of page.accepted) {
    const until = item.until ? `, until ${item.until}` : "";
    section.append(make("p", { class: "faint" }, `Accepted${until}: ${item.message} (${item.check}): ${item.reason}`));
  }
  return section;
}

function findingItem(index, k, item, page, show) {
  const rule = rules[item.check];
  const line = make("p", {}, make("span", { class: `severity ${item.severity}` }, item.severity), `: ${item.message}`);
  const entry = make("li", { class: item.severity, id: `f${index}-${k}` }, line);
  if (item.about) entry.append(make("p", { class: "faint" }, item.about));
  if (item.help) entry.append(make("p", {}, `Help: ${item.help}`));
  if (item.repair) entry.append(make("p", {}, `Likely repair: ${item.repair}${item.evidence ? `. Evidence: ${item.evidence}` : ""}`));
  const bar = make("div", { class: "bar" });
  if (item.frames && page.pictures) {
    const button = make("button", { type: "button" }, "Show on the traces");
    button.addEventListener("click", () => show(item));
    bar.append(button);
  }
  bar.append(make("a", { href: `#f${index}-${k}` }, "Link to this finding"));
  const more = make("details", {}, make("summary", {}, `Place, values, what ${item.check} means`));
  more.append(item.excerpt ? make("pre", {}, item.excerpt) : make("p", {}, item.place));
  if (item.values.length > 0) more.append(factsList(item.values));
  if (rule) more.append(make("p", {}, `${rule.title}. ${rule.meaning}`));
  entry.append(more, bar);
  return entry;
}

/** Zooms the traces of a take to a finding, with as much again on both sides. */
function showOnPlots(item, sections) {
  const section = sections[item.frames[0]];
  const plot = section && section.plots && section.plots[0];
  if (!plot) return;
  const [first, last] = [item.frames[1], item.frames[2]];
  const room = Math.max(last - first, 50);
  plot.zoom(first - room, last + room);
  section.scrollIntoView();
  plot.holder.focus({ preventScroll: true });
}
