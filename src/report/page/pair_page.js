"use strict";
// Ties picture, table and plots of two photos of one core together.

(() => {
  const { html, byId, isNumber, rowsOf } = Elements;
  const island = JSON.parse(byId("island").textContent);
  const kinds = island.kinds.map((kind, rank) => ({ ...kind, rank }));
  const first = `area_${island.first_word}_mm2`, second = `area_${island.second_word}_mm2`;

  const rows = rowsOf(island.table).map((row, i) => {
    const kind = kinds.find((one) => one.name === island.row_kinds[i]);
    const area = Math.max(...[row[first], row[second]].filter(isNumber), 0);
    return { ...row, row: i + 1, kind: kind.name, kind_words: kind.words, kind_rank: kind.rank, sign: kind.sign, area, ecd_mm: Math.sqrt(4 * area / Math.PI) };
  });
  const rowOf = (id) => rows[id - 1];
  const columns = PairViews.columns(island);
  let picked = null;

  function showCard() {
    const row = picked === null ? null : rowOf(picked), card = byId("spot-card");
    if (!row) {
      card.replaceChildren(html("h3", {}, "No spot chosen"), html("p", {}, "Choose one in the picture or in the table."));
      return;
    }
    card.replaceChildren(html("h3", {}, `Row ${row.row}: ${row.sign} ${row.kind_words}`),
      html("dl", {}, ...columns.slice(2).flatMap((column) => [html("dt", {}, column.label), html("dd", {}, column.write(row) || Elements.NONE)])));
  }

  function hover(id) {
    picture.setHot(id);
    table.setHot(id);
    PlotFrame.setHot(id);
  }
  function pick(id) {
    picked = id;
    picture.setPicked(id);
    table.setPicked(id);
    PlotFrame.setPicked(id);
    showCard();
  }

  function passing() {
    const limit = (id) => (byId(id).value === "" ? null : Number(byId(id).value));
    const from = limit("filter-from"), to = limit("filter-to"), kind = byId("filter-kind").value;
    return (row) => (kind === "" || row.kind === kind) && (from === null || row.area >= from) && (to === null || row.area <= to);
  }

  const curtain = makeCurtain();
  const picture = makePicture(island, {
    hover, pick, spot: rowOf, viewed: curtain.place,
    words: (id) => byId(`spot-${id}`).getAttribute("aria-label"),
  });
  const table = makeSortedTable({
    name: "spot", columns, idOf: (row) => row.row, passing, none: "There are no spots.", noneLeft: "No row passes the filter.",
    counted: (seen, all) => (seen === all ? `${all} rows` : `${seen} of ${all} rows`),
    goTo: (row) => `Row ${row.row}: show it in the picture`,
  }, { hover, pick, filtered: picture.dim });
  table.setRows(rows);

  const plots = byId("plots"), drawn = rows.length ? PairViews.plots(island, rows) : [];
  plots.replaceChildren(...(drawn.length ? drawn : [html("p", {}, "There are no spots.")]));
  const spotAt = (event) => {
    const node = event.target.closest?.("[data-spot]");
    return node ? Number(node.dataset.spot) : null;
  };
  plots.addEventListener("pointerover", (event) => hover(spotAt(event)));
  plots.addEventListener("pointerleave", () => hover(null));
  plots.addEventListener("click", (event) => { if (spotAt(event) !== null) pick(spotAt(event)); });
  document.documentElement.dataset.ready = "true";
})();
