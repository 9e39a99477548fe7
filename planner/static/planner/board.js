// The few lines that a page needs: arrow keys between bars, tables that sort, the list of keys.
"use strict";

const middle = (bar) => {
  const box = bar.getBoundingClientRect();
  return box.left + box.width / 2;
};

// One bar per drawing is a tab stop; arrows move it.
for (const chart of document.querySelectorAll("[data-chart]")) {
  const rows = [...chart.querySelectorAll("[data-row]")]
    .map((row) => [...row.querySelectorAll("[data-bar]")])
    .filter((row) => row.length);
  rows.flat().forEach((bar, place) => bar.setAttribute("tabindex", place ? "-1" : "0"));
  chart.addEventListener("keydown", (event) => {
    const bar = event.target.closest("[data-bar]");
    const r = rows.findIndex((row) => row.includes(bar));
    if (r < 0 || event.ctrlKey || event.metaKey || event.altKey) return;
    const place = rows[r].indexOf(bar);
    const nearest = (row) =>
      row && row.reduce((a, b) => (Math.abs(middle(b) - middle(bar)) < Math.abs(middle(a) - middle(bar)) ? b : a));
    const next = {
      ArrowLeft: () => rows[r][place - 1],
      ArrowRight: () => rows[r][place + 1],
      ArrowUp: () => nearest(rows[r - 1]),
      ArrowDown: () => nearest(rows[r + 1]),
      Home: () => rows[r][0],
      End: () => rows[r].at(-1),
    }[event.key];
    if (!next) return;
    event.preventDefault();
    const to = next();
    if (!to) return;
    bar.setAttribute("tabindex", "-1");
    to.setAttribute("tabindex", "0");
    to.focus();
    to.scrollIntoView({ block: "nearest", inline: "nearest" });
  });
  chart.addEventListener("click", (event) => {
    const bar = event.target.closest("[data-bar]");
    if (bar) document.querySelector(bar.getAttribute("href"))?.focus();
  });
}

// Heads sort their column: numbers by value, the rest by text; the rows keep their order in ties.
for (const table of document.querySelectorAll("table[data-sort]")) {
  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      heads.forEach((other) => other.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const value = (row) => row.cells[column].dataset.value ?? row.cells[column].textContent;
      const rows = [...table.tBodies[0].rows].sort(
        (a, b) => value(a).localeCompare(value(b), "en", { numeric: true }) * (down ? -1 : 1),
      );
      table.tBodies[0].append(...rows);
    });
  });
}

// On a phone the lists come before the drawings, for the eye and for the keyboard alike.
const narrow = window.matchMedia("screen and (max-width: 48rem)");
const boards = [...document.querySelectorAll("section.board")];
const lists = [...document.querySelectorAll("section.list")];
const arrange = () => {
  const [first, then] = narrow.matches ? [lists, boards] : [boards, lists];
  if (boards.length) document.querySelector("main").append(...first, ...then);
};
narrow.addEventListener("change", arrange);
arrange();

// The list of keys; its one single-character key can be switched off (WCAG 2.1.4).
const dialog = document.getElementById("keys");
const single = dialog.querySelector("[data-single]");
const opener = document.querySelector("[data-keys]");
opener.hidden = false;
opener.addEventListener("click", () => dialog.showModal());
try {
  single.checked = localStorage.getItem("platen-single-keys") !== "off";
  single.addEventListener("change", () => localStorage.setItem("platen-single-keys", single.checked ? "on" : "off"));
} catch {
  // A browser may refuse storage to pages from disk: the choice then lasts as long as the page.
}
document.addEventListener("keydown", (event) => {
  const typing = event.target.closest("input, textarea, select");
  if (event.key === "?" && single.checked && !typing && !dialog.open) dialog.showModal();
});
