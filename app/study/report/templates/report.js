"use strict";
// Tables sort by a click or Enter on a heading; numbers by their first figure, words by their letters.
for (const button of document.querySelectorAll("th button")) {
  button.addEventListener("click", () => {
    const head = button.parentElement, at = head.cellIndex, body = head.closest("table").tBodies[0];
    const down = head.getAttribute("aria-sort") === "ascending";
    for (const other of head.parentElement.cells) other.removeAttribute("aria-sort");
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    const value = (row) => {
      const text = row.cells[at].textContent.trim().replace(/[\u202f\u00a0]/g, "").replace("−", "-");
      const found = text.match(/^-?\d+(\.\d+)?/);
      return head.classList.contains("number") && found ? Number(found[0]) : text;
    };
    const order = (a, b) => typeof a === typeof b ? (a < b ? -1 : a > b ? 1 : 0) : typeof a === "number" ? -1 : 1;
    const rows = [...body.rows].sort((a, b) => order(value(a), value(b)) * (down ? -1 : 1));
    body.append(...rows);
  });
}
