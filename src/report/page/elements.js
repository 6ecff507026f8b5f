"use strict";
// Making elements and writing figures. Text always goes in as text, never as markup.

const Elements = (() => {
  const SVG = "http://www.w3.org/2000/svg";

  function fill(node, attributes, children) {
    for (const [name, value] of Object.entries(attributes || {})) {
      if (value === null || value === undefined || value === false) continue;
      node.setAttribute(name, value === true ? "" : String(value));
    }
    for (const child of children) node.append(child);
    return node;
  }
  const html = (tag, attributes, ...children) => fill(document.createElement(tag), attributes, children);
  const svg = (tag, attributes, ...children) => fill(document.createElementNS(SVG, tag), attributes, children);
  const byId = (id) => document.getElementById(id);

  const isNumber = (value) => typeof value === "number" && Number.isFinite(value);
  const NONE = "–";

  /** So many decimals, and never "-0". */
  function fixed(value, decimals) {
    if (!isNumber(value)) return NONE;
    const text = value.toFixed(Math.min(Math.max(decimals, 0), 9));
    return /^-[0.]*$/.test(text) ? text.slice(1) : text;
  }
  function decimalsFor(value, digits) {
    return Math.min(Math.max(digits - 1 - Math.floor(Math.log10(Math.abs(value))), 0), 9);
  }
  function significant(value, digits) {
    if (!isNumber(value)) return NONE;
    return value === 0 ? "0" : fixed(value, decimalsFor(value, digits));
  }

  /** A value and the half-width of its interval, to the digits that the latter leaves it. */
  function withInterval(value, u95, decimals) {
    if (!isNumber(value) || !isNumber(u95)) return fixed(value, decimals);
    const digits = u95 > 0 ? Math.min(decimalsFor(u95, 2), 6) : decimals;
    return `${fixed(value, digits)} ± ${fixed(u95, digits)}`;
  }

  /** Rows of a table of the island as objects. */
  function rowsOf({ columns, rows }) {
    return rows.map((row) => Object.fromEntries(row.map((cell, i) => [columns[i], cell])));
  }

  /** A figure as the program writes it for reading: with a u95 to two digits, and its own decimals by that. */
  function figure(shown, figures) {
    const value = figures[shown.column];
    const u95 = shown.u95 ? figures[shown.u95] : null;
    if (!isNumber(value)) return { value: NONE, u95: "", unit: "" };
    if (isNumber(u95) && u95 > 0) {
      const decimals = decimalsFor(u95, 2);
      return { value: fixed(value, decimals), u95: fixed(u95, decimals), unit: shown.unit };
    }
    return { value: fixed(value, shown.decimals), u95: "", unit: shown.unit };
  }

  /** Fills a cell with a figure. */
  function showFigure(node, shown, figures) {
    const text = figure(shown, figures);
    node.replaceChildren(html("span", { class: "value" }, text.value));
    if (text.u95) node.append(" ", html("span", { class: "u95" }, `± ${text.u95}`));
    if (text.unit) node.append(` ${text.unit}`);
  }

  return { html, svg, byId, fixed, significant, withInterval, rowsOf, figure, showFigure, isNumber, NONE };
})();
