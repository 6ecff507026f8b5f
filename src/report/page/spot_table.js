"use strict";
// The table of one face's spots: its columns and its filter.

function makeSpotTable(island, events) {
  const { byId, fixed } = Elements;
  const plain = (key, decimals) => (spot) => fixed(spot[key], decimals);
  const COLUMNS = [
    { key: "spot_id", label: "Spot", write: (spot) => String(spot.spot_id) },
    { key: "x_mm", label: "x, mm", write: plain("x_mm", 2) },
    { key: "y_mm", label: "y, mm", write: plain("y_mm", 2) },
    { key: "clock_deg", label: "Clock, °", write: plain("clock_deg", 0) },
    { key: "area_mm2", label: "Area, mm²", write: (spot) => Elements.withInterval(spot.area_mm2, spot.area_u95_mm2, 3) },
    { key: "ecd_mm", label: "ECD, mm", write: plain("ecd_mm", 2) },
    { key: "feret_max_mm", label: "Feret max, mm", write: plain("feret_max_mm", 2) },
    { key: "feret_min_mm", label: "Feret min, mm", write: plain("feret_min_mm", 2) },
    { key: "form_factor", label: "Form factor", write: plain("form_factor", 2) },
    { key: "solidity", label: "Solidity", write: plain("solidity", 2) },
    { key: "mean_L", label: "Mean L*", write: plain("mean_L", 1) },
    { key: "contrast_dL", label: "ΔL*", write: plain("contrast_dL", 1) },
    { key: "contrast_weber", label: "Weber", write: plain("contrast_weber", 2) },
    { key: "state", label: "Counted", words: true, write: (spot) => STATES[spot.state] + (spot.touches_rim === "true" ? ", at the rim" : "") },
  ];
  const STATES = { found: "yes", cut: "yes, cut by hand", drawn: "yes, drawn by hand", struck: "struck" };

  function passing() {
    const limit = (id) => (byId(id).value === "" ? null : Number(byId(id).value));
    const from = limit("filter-from"), to = limit("filter-to"), contrast = limit("filter-contrast"), state = byId("filter-state").value;
    const light = island.absolute ? "contrast_dL" : "contrast_weber";
    return (spot) => (from === null || spot.ecd_mm >= from) && (to === null || spot.ecd_mm <= to) &&
      (contrast === null || spot[light] >= contrast) &&
      (state === "" || (state === "struck") === (spot.state === "struck")) &&
      (state !== "corrected" || spot.state === "cut" || spot.state === "drawn");
  }

  const sorted = makeSortedTable({
    name: "spot", columns: COLUMNS, idOf: (spot) => spot.spot_id, passing, none: "There are no spots.", noneLeft: "No spot passes the filter.",
    counted: (seen, all) => (seen === all ? `${all} spots` : `${seen} of ${all} spots`),
    goTo: (spot) => `Spot ${spot.spot_id}: show it in the picture`,
    rowClass: (spot) => (spot.state === "struck" ? "struck" : null),
  }, events);
  return {
    ...sorted,
    write: (spot, key) => COLUMNS.find((column) => column.key === key).write(spot),
  };
}
