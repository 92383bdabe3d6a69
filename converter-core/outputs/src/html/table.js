// The table of all files: filter, order, and which file is open.

const rows = [...document.querySelectorAll("#files tbody tr")];
const worse = { failed: 0, error: 1, warning: 2, note: 3, clean: 4 };
const texts = new Map(rows.map((row) => [row, row.textContent.toLowerCase()]));

function filterRows() {
  const wanted = byId("find").value.trim().toLowerCase();
  const show = byId("show").value;
  let count = 0;
  for (const row of rows) {
    const state = row.dataset.state;
    const fits = show === "all" || (show === "clean" || show === "failed" ? state === show : worse[state] <= worse[show]);
    row.hidden = !(fits && texts.get(row).includes(wanted));
    if (!row.hidden) count += 1;
  }
  byId("shown").textContent = `${count} of ${rows.length} shown`;
}

function sortRows(head, column) {
  const up = head.getAttribute("aria-sort") === "ascending" || (head.dataset.sort === "number" && head.getAttribute("aria-sort") !== "descending");
  for (const other of document.querySelectorAll("#files thead th")) other.setAttribute("aria-sort", "none");
  head.setAttribute("aria-sort", up ? "descending" : "ascending");
  const collator = new Intl.Collator(undefined, { numeric: true });
  const key = (row) => {
    const text = row.cells[column].textContent;
    if (head.dataset.sort === "number") return text === "" ? -1 : Number(text);
    return head.textContent === "State" ? String(worse[row.dataset.state]) : text;
  };
  const keyed = rows.map((row, order) => [key(row), order, row]);
  keyed.sort((a, b) => {
    const by = typeof a[0] === "number" ? a[0] - b[0] : collator.compare(a[0], b[0]);
    return (up ? -by : by) || a[1] - b[1];
  });
  document.querySelector("#files tbody").append(...keyed.map(([, , row]) => row));
}

/** What the address says is open: `#f12`, `#f12-3` a finding, `#r12` a row. */
function followAddress() {
  const [, kind, index, finding] = /^#(f|r)(\d+)(?:-(\d+))?$/.exec(location.hash) || [];
  document.querySelectorAll("tr.opened").forEach((row) => row.classList.remove("opened"));
  const row = index == null ? null : byId(`r${index}`);
  if (kind === "f" && row) {
    row.classList.add("opened");
    openFile(Number(index), finding);
    return;
  }
  clearPlots();
  byId("one").hidden = true;
  byId("one").replaceChildren();
  if (row) row.querySelector("a").focus();
}

const THEMES = [["", "as the system"], ["light", "light"], ["dark", "dark"]];
let theme = 0;

function nextTheme() {
  theme = (theme + 1) % THEMES.length;
  const [name, words] = THEMES[theme];
  if (name) document.documentElement.dataset.theme = name;
  else delete document.documentElement.dataset.theme;
  byId("theme").textContent = `Colours: ${words}`;
  redrawPlots();
}

document.querySelectorAll("#files thead th").forEach((head, column) => {
  const button = make("button", { type: "button" }, head.textContent);
  button.addEventListener("click", () => sortRows(head, column));
  head.replaceChildren(button);
  head.setAttribute("aria-sort", "none");
});
byId("filter").hidden = false;
byId("theme").hidden = false;
byId("filter").addEventListener("submit", (event) => event.preventDefault());
byId("find").addEventListener("input", filterRows);
byId("show").addEventListener("change", filterRows);
byId("theme").addEventListener("click", nextTheme);
window.addEventListener("hashchange", followAddress);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redrawPlots);

// Plots are pictures: they are made anew for paper, and when the width changes.
let paper = "";
window.addEventListener("beforeprint", () => {
  paper = document.documentElement.dataset.theme || "";
  document.documentElement.dataset.theme = "light";
  redrawPlots();
});
window.addEventListener("afterprint", () => {
  if (paper) document.documentElement.dataset.theme = paper;
  else delete document.documentElement.dataset.theme;
  redrawPlots();
});
let width = innerWidth;
let waiting = 0;
window.addEventListener("resize", () => {
  if (innerWidth === width) return;
  width = innerWidth;
  clearTimeout(waiting);
  waiting = setTimeout(redrawPlots, 150);
});
filterRows();
followAddress();
