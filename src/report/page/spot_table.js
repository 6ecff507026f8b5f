"use strict";
// The table of spots: sorted by any column, filtered, and tied to the picture.

function makeSpotTable(island, events) {
  const { html, byId, fixed, significant, isNumber, NONE } = Elements;
  const plain = (key, decimals) => (spot) => fixed(spot[key], decimals);
  const COLUMNS = [
    { key: "spot_id", label: "Spot" },
    { key: "x_mm", label: "x, mm", write: plain("x_mm", 2) },
    { key: "y_mm", label: "y, mm", write: plain("y_mm", 2) },
    { key: "clock_deg", label: "Clock, °", write: plain("clock_deg", 0) },
    { key: "area_mm2", label: "Area, mm²", write: (spot) => {
      const u = spot.area_u95_mm2, digits = isNumber(u) && u > 0 ? Math.min(Math.max(1 - Math.floor(Math.log10(u)), 0), 6) : 3;
      return isNumber(u) ? `${fixed(spot.area_mm2, digits)} ± ${fixed(u, digits)}` : fixed(spot.area_mm2, digits);
    } },
    { key: "ecd_mm", label: "ECD, mm", write: plain("ecd_mm", 2) },
    { key: "feret_max_mm", label: "Feret max, mm", write: plain("feret_max_mm", 2) },
    { key: "feret_min_mm", label: "Feret min, mm", write: plain("feret_min_mm", 2) },
    { key: "form_factor", label: "Form factor", write: plain("form_factor", 2) },
    { key: "solidity", label: "Solidity", write: plain("solidity", 2) },
    { key: "mean_L", label: "Mean L*", write: plain("mean_L", 1) },
    { key: "contrast_dL", label: "ΔL*", write: plain("contrast_dL", 1) },
    { key: "contrast_weber", label: "Weber", write: plain("contrast_weber", 2) },
    { key: "state", label: "Counted", write: (spot) => STATES[spot.state] + (spot.touches_rim === "true" ? ", at the rim" : "") },
  ];
  const STATES = { found: "yes", cut: "yes, cut by hand", drawn: "yes, drawn by hand", struck: "struck" };
  const table = byId("spot-table"), body = table.tBodies[0];
  let sort = { key: "spot_id", down: false }, spots = [], rows = new Map(), hot = null, picked = null;

  function header() {
    const cells = COLUMNS.map((column) => {
      const button = html("button", { type: "button", class: "screen-only" }, column.label);
      // A head with buttons is not repeated on each printed page.
      const words = html("span", { class: "print-only", "aria-hidden": "true" }, column.label);
      const cell = html("th", { scope: "col", "data-key": column.key }, button, words);
      button.addEventListener("click", () => {
        sort = { key: column.key, down: sort.key === column.key ? !sort.down : false };
        show();
      });
      return cell;
    });
    table.tHead.replaceChildren(html("tr", {}, ...cells));
  }

  function passes(spot) {
    const limit = (id) => (byId(id).value === "" ? null : Number(byId(id).value));
    const from = limit("filter-from"), to = limit("filter-to"), contrast = limit("filter-contrast");
    const value = island.absolute ? spot.contrast_dL : spot.contrast_weber, state = byId("filter-state").value;
    return (from === null || spot.ecd_mm >= from) && (to === null || spot.ecd_mm <= to) &&
      (contrast === null || value >= contrast) &&
      (state === "" || (state === "struck") === (spot.state === "struck")) &&
      (state !== "corrected" || spot.state === "cut" || spot.state === "drawn");
  }

  function compare(a, b) {
    const x = a[sort.key], y = b[sort.key];
    if (!isNumber(x) && typeof x !== "string") return 1;  // not measured: last, whichever way
    if (!isNumber(y) && typeof y !== "string") return -1;
    const order = x < y ? -1 : x > y ? 1 : a.spot_id - b.spot_id;
    return sort.down ? -order : order;
  }

  function row(spot) {
    const cells = COLUMNS.map((column, i) => {
      if (i > 0) return html("td", { class: column.key === "state" ? null : "number" }, column.write(spot));
      const button = html("button", { type: "button", class: "go", "aria-label": `Spot ${spot.spot_id}: show it in the picture` }, String(spot.spot_id));
      return html("th", { scope: "row", class: "number" }, button);
    });
    return html("tr", { "data-spot": spot.spot_id, class: spot.state === "struck" ? "struck" : null }, ...cells);
  }

  function show() {
    const seen = spots.filter(passes).sort(compare);
    rows = new Map(seen.map((spot) => [spot.spot_id, row(spot)]));
    body.replaceChildren(...rows.values());
    if (seen.length === 0) body.append(html("tr", {}, html("td", { colspan: COLUMNS.length }, spots.length ? "No spot passes the filter." : "There are no spots.")));
    for (const cell of table.tHead.rows[0].cells)
      if (cell.dataset.key === sort.key) cell.setAttribute("aria-sort", sort.down ? "descending" : "ascending");
      else cell.removeAttribute("aria-sort");
    byId("filter-count").textContent = seen.length === spots.length ? `${spots.length} spots` : `${seen.length} of ${spots.length} spots`;
    rows.get(picked)?.classList.add("picked");
    events.filtered(new Set(spots.filter((spot) => !rows.has(spot.spot_id)).map((spot) => spot.spot_id)));
  }

  function mark(name, before, now) {
    rows.get(before)?.classList.remove(name);
    rows.get(now)?.classList.add(name);
  }
  function setHot(id) {
    mark("hot", hot, id);
    hot = id;
  }
  function setPicked(id) {
    if (picked === id) return mark("picked", null, id);  // a table made anew: it stays where it is
    mark("picked", picked, id);
    picked = id;
    const node = rows.get(id), frame = byId("spot-scroll");
    if (!node) return;
    // Within its own frame: the page itself stays where the reader is.
    const head = table.tHead.offsetHeight;
    if (node.offsetTop < frame.scrollTop + head) frame.scrollTop = node.offsetTop - head;
    else if (node.offsetTop + node.offsetHeight > frame.scrollTop + frame.clientHeight)
      frame.scrollTop = node.offsetTop + node.offsetHeight - frame.clientHeight;
  }

  const spotOf = (event) => {
    const node = event.target.closest?.("tr[data-spot]");
    return node ? Number(node.dataset.spot) : null;
  };
  body.addEventListener("pointerover", (event) => events.hover(spotOf(event)));
  body.addEventListener("pointerleave", () => events.hover(null));
  body.addEventListener("focusin", (event) => events.hover(spotOf(event)));
  body.addEventListener("click", (event) => { if (spotOf(event) !== null) events.pick(spotOf(event)); });
  byId("spot-filter").addEventListener("input", show);
  byId("spot-filter").addEventListener("submit", (event) => event.preventDefault());
  byId("spot-filter").addEventListener("reset", () => setTimeout(show));

  header();
  return {
    setHot, setPicked,
    setSpots(list) {
      spots = list;
      show();
    },
    write: (spot, key) => COLUMNS.find((column) => column.key === key).write(spot),
    NONE,
    significant,
  };
}
