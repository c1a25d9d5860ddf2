"use strict";
// Headings of the roster become buttons that sort it; without this script the table stays as set.
for (const table of document.querySelectorAll("table.sortable")) {
  const body = table.tBodies[0];
  const value = (row, place) => {
    const cell = row.cells[place];
    return cell.dataset.order ?? cell.textContent.trim();
  };
  const compare = (one, other) => {
    const difference = Number(one) - Number(other);
    return Number.isNaN(difference) ? one.localeCompare(other) : difference;
  };
  [...table.tHead.rows[0].cells].forEach((heading, place) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = heading.textContent;
    button.title = heading.title;
    heading.replaceChildren(button);
    button.addEventListener("click", () => {
      const isRising = heading.getAttribute("aria-sort") !== "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      heading.setAttribute("aria-sort", isRising ? "ascending" : "descending");
      const rows = [...body.rows].sort((one, other) => compare(value(one, place), value(other, place)));
      body.append(...(isRising ? rows : rows.reverse()));
    });
  });
}
