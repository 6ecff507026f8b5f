"use strict";
// Ties picture, table, plots and corrections of one measured face together.

(() => {
  const { html, byId, fixed, significant, showFigure } = Elements;
  const island = JSON.parse(byId("island").textContent);
  let result = EditedFigures.unedited(island), counted = new Map(), picked = null, dimmed = new Set();
  const found = new Map(result.spots.map((spot) => [spot.spot_id, spot]));
  const measuredWith = JSON.stringify(island.edits);

  const spotOf = (id) => counted.get(id) ?? found.get(id);
  const stateOf = (spot) => (result.struck.has(spot.spot_id) ? "struck" : spot.origin);

  function words(id) {
    const spot = spotOf(id);
    if (!spot) return "";
    const light = island.absolute ? `ΔL* ${fixed(spot.contrast_dL, 1)}` : `Weber contrast ${fixed(spot.contrast_weber, 2)}`;
    const state = { struck: ", struck", cut: ", cut by hand", drawn: ", drawn by hand" }[stateOf(spot)] ?? "";
    return `Spot ${id}${state}: ${significant(spot.area_mm2, 3)} mm², ECD ${fixed(spot.ecd_mm, 2)} mm, ${light}`;
  }

  function showCard() {
    const spot = spotOf(picked), card = byId("spot-card");
    const struck = spot ? result.struck.has(picked) : false;
    byId("strike").disabled = !spot || struck || spot.origin === "drawn" || !found.has(picked);
    byId("restore").disabled = !struck;
    if (!spot) {
      card.replaceChildren(html("h3", {}, "No spot chosen"), html("p", {}, "Choose one in the picture or in the table."));
      return;
    }
    const facts = [["Area", `${table.write(spot, "area_mm2")} mm²`], ["ECD", `${table.write(spot, "ecd_mm")} mm`],
      ["Feret, largest", `${table.write(spot, "feret_max_mm")} mm`], ["Feret, smallest", `${table.write(spot, "feret_min_mm")} mm`],
      ["Form factor", table.write(spot, "form_factor")], ["Solidity", table.write(spot, "solidity")],
      ["Mean L*", table.write(spot, "mean_L")], ["Peak L*", fixed(spot.peak_L, 1)],
      ["Contrast ΔL*", table.write(spot, "contrast_dL")], ["Weber contrast", table.write(spot, "contrast_weber")],
      ["x, y", `${table.write(spot, "x_mm")}, ${table.write(spot, "y_mm")} mm`], ["Clock", `${table.write(spot, "clock_deg")}°`]];
    const title = { struck: " (struck)", cut: " (cut by hand)", drawn: " (drawn by hand)" }[stateOf(spot)] ?? "";
    card.replaceChildren(html("h3", {}, `Spot ${picked}${title}`),
      html("dl", {}, ...facts.flatMap(([name, value]) => [html("dt", {}, name), html("dd", {}, value)])));
  }

  function hover(id) {
    picture.setHot(id);
    table.setHot(id);
  }
  function pick(id) {
    picked = id !== null && spotOf(id) ? id : null;
    picture.setPicked(picked);
    table.setPicked(picked);
    Plots.setPicked(picked);
    showCard();
  }

  const picture = makePicture(island, { hover, pick, words, spot: spotOf });
  const table = makeSpotTable(island, {
    hover, pick,
    filtered(ids) {
      dimmed = ids;
      picture.showSpots(result, corrections ? corrections.current() : island.edits, dimmed);
    },
  });
  let corrections = null;

  let asMeasured = true;  // the figures shown, as long as no correction has come or gone
  /** Figures that no file holds yet stand in a column of their own. */
  function showFigures(edits) {
    const unsaved = JSON.stringify(edits) !== measuredWith;
    if (asMeasured && !unsaved) return;
    asMeasured = !unsaved;
    for (const node of document.querySelectorAll("#figures-table .live")) node.hidden = !unsaved;
    byId("unsaved").hidden = !unsaved;
    const changed = byId("corrections-live");
    changed.hidden = !unsaved;
    for (const shown of island.shown) {
      const live = document.querySelector(`#figures-table [data-live="${shown.column}"]`);
      if (live) showFigure(live, shown, result.figures);
      const tile = document.querySelector(`.headline [data-figure="${shown.column}"]`);
      if (tile && (unsaved || edits.length === 0)) showFigure(tile, shown, result.figures);
      else if (tile) tile.replaceChildren(...measuredTiles.get(shown.column).map((node) => node.cloneNode(true)));
    }
    if (!unsaved) return;
    const part = (column) => {
      const text = Elements.figure(island.shown.find((s) => s.column === column), result.figures);
      return `${text.value}${text.u95 ? ` ± ${text.u95}` : ""}${text.unit ? ` ${text.unit}` : ""}`;
    };
    const plural = edits.length === 1 ? "correction" : "corrections";
    changed.textContent = `With ${edits.length} ${plural}: ${part("spot_count")} spots, area fraction ${part("area_fraction_pct")}, ` +
      `contrast ΔL* ${part("contrast_dL")}. The colour difference and peak lightness of changed spots come with the next measurement.`;
  }
  const measuredTiles = new Map([...document.querySelectorAll(".headline [data-figure]")]
    .map((node) => [node.dataset.figure, [...node.childNodes].map((child) => child.cloneNode(true))]));

  function show(next, edits) {
    result = next;
    counted = new Map(result.spots.map((spot) => [spot.spot_id, spot]));
    const all = result.spots.concat([...result.struck].map((id) => found.get(id)));
    for (const spot of all) spot.state = stateOf(spot);
    // The table tells which spots its filter leaves out, and with that the picture is shown anew.
    table.setRows(all);
    Plots.draw(island, result);
    showFigures(edits);
    pick(picked);
  }

  let last = { key: "[]", result };
  /** A correction is tried before it is made: the sums are done once for both. */
  async function computed(edits) {
    const key = JSON.stringify(edits);
    if (key !== last.key)
      last = { key, result: edits.length === 0 ? EditedFigures.unedited(island) : EditedFigures.apply(island, await Maps.load(island), edits) };
    return last.result;
  }

  counted = new Map(result.spots.map((spot) => [spot.spot_id, spot]));
  corrections = makeCorrections(island, {
    picked: () => spotOf(picked),
    startDrawing: picture.startDrawing,
    stopDrawing: picture.stopDrawing,
    setCorners: picture.setCorners,
    prepare: () => Maps.load(island).then((maps) => EditedFigures.prepare(island, maps)).catch(() => {}),  // said when it is needed
    tried: computed,
    async changed(edits) {
      const next = await computed(edits);
      show(next, edits);
      return next;
    },
  });
  corrections.start().catch((error) => {
    // The figures of the files stand; only what the page would work out from its own maps is missing.
    show(EditedFigures.unedited(island), island.edits);
    byId("open-fault").textContent = `This browser cannot work the corrections out again (${error.message}).`;
  }).then(() => { document.documentElement.dataset.ready = "true"; });
})();
