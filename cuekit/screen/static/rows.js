/** A table that becomes a list of cards where the page is narrow. */

import { actionKey } from "./actions.js";
import { element } from "./elements.js";

/**
 * The table. Roles are said again because a table drawn as cards loses them in browsers.
 * @param {string[]} columns headings
 * @param {{cells: string[], actions: Object[]}[]} rows
 * @param {function(Object)} take
 * @param {string} name of the table
 * @returns {HTMLElement}
 */
export function table(columns, rows, take, name) {
  const acts = rows.some((row) => row.actions.length > 0);
  const heads = columns.map((column) => element("th", { role: "columnheader", scope: "col" }, column));
  if (acts) heads.push(element("td", { role: "cell" }));
  const head = element("thead", { role: "rowgroup" }, element("tr", { role: "row" }, ...heads));
  const body = element("tbody", { role: "rowgroup" }, ...rows.map((row) => line(row, columns, take, acts)));
  return element("table", { role: "table", "aria-label": name }, head, body);
}

function line(row, columns, take, acts) {
  const cells = row.cells.map((cell, n) =>
    element("td", { role: "cell", "data-column": columns[n] ?? "" }, cell),
  );
  if (acts) {
    const keys = row.actions.map((action) => actionKey(action, take, row.cells[0]));
    cells.push(element("td", { role: "cell", class: "acts" }, ...keys));
  }
  return element("tr", { role: "row" }, ...cells);
}
