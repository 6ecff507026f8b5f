"use strict";
// Tracks of all cores: a table, and each spot's area against date.

(() => {
  const { html, svg, byId, fixed, withInterval, rowsOf } = Elements;
  const { LEFT, RIGHT, TOP, WIDTH, plotWidth, plotHeight } = PlotFrame;
  const island = JSON.parse(byId("island").textContent), several = island.cores.length > 1;
  let picked = null;

  /** Rows of tracks.csv, one object a track: areas of one date are added up, as if they erred together. */
  function tracksOf(rows) {
    const tracks = new Map();
    for (const row of rows) {
      const key = JSON.stringify([row.core, row.track_id]);
      if (!tracks.has(key)) tracks.set(key, { core: row.core, track_id: row.track_id, x_mm: row.x_mm, y_mm: row.y_mm, visits: new Map() });
      const { visits } = tracks.get(key), before = visits.get(row.date) ?? { area: 0, u95: 0 };
      visits.set(row.date, { area: before.area + row.area_mm2, u95: before.u95 + row.area_u95_mm2 });
    }
    return [...tracks.values()].map((track, i) => {
      const dates = [...track.visits.keys()].sort(), first = track.visits.get(dates[0]), last = track.visits.get(dates[dates.length - 1]);
      return { ...track, number: i + 1, dates, from: dates[0], to: dates[dates.length - 1], seen: dates.length, first, last,
        first_area: first.area, last_area: last.area, change: dates.length > 1 ? last.area - first.area : null };
    });
  }
  const tracks = tracksOf(rowsOf(island.tracks));

  const columns = [
    { key: "number", label: several ? "No." : "Track", write: (track) => String(several ? track.number : track.track_id) },
    ...(several ? [{ key: "core", label: "Core", words: true, write: (track) => track.core },
      { key: "track_id", label: "Track", write: (track) => String(track.track_id) }] : []),
    { key: "x_mm", label: "x, mm", write: (track) => fixed(track.x_mm, 2) },
    { key: "y_mm", label: "y, mm", write: (track) => fixed(track.y_mm, 2) },
    { key: "from", label: "First seen", words: true, write: (track) => track.from },
    { key: "to", label: "Last seen", words: true, write: (track) => track.to },
    { key: "seen", label: "Visits", write: (track) => String(track.seen) },
    { key: "first_area", label: "Area first, mm²", write: ({ first }) => withInterval(first.area, first.u95, 3) },
    { key: "last_area", label: "Area last, mm²", write: ({ last }) => withInterval(last.area, last.u95, 3) },
    { key: "change", label: "Last less first, mm²", write: (track) => fixed(track.change, 3) },
  ];
  const words = (track) => `${several ? `No. ${track.number}: core ${track.core}, track` : "Track"} ${track.track_id}`;

  const day = (date) => Date.parse(date) / 86400000;

  function plotOf(core) {
    const own = tracks.filter((track) => track.core === core);
    const dates = [...new Set(own.flatMap((track) => track.dates))].sort();
    const title = several ? `Core ${core}` : "Area of each track";
    const node = PlotFrame.blank(title, `${own.length} tracks over ${dates.length} visits.`, "mm²");
    const scale = PlotFrame.ratioScale(own.flatMap((track) => [...track.visits.values()].map((visit) => visit.area)));
    const y = (area) => TOP + plotHeight * (1 - scale.share(area));
    const span = day(dates[dates.length - 1]) - day(dates[0]) || 1;
    const x = (date) => LEFT + 12 + (plotWidth - 24) * (day(date) - day(dates[0])) / span;
    for (const tick of scale.ticks) PlotFrame.yTick(node, y(tick.at), tick.words);
    let free = -Infinity;
    for (const date of dates) {
      const room = x(date) - free >= 50;
      PlotFrame.xTick(node, x(date), room ? date.slice(0, 7) : "");
      if (room) free = x(date);
    }
    for (const track of own) {
      const places = track.dates.map((date) => `${x(date)} ${y(track.visits.get(date).area)}`);
      const line = svg("g", { class: "track", "data-spot": track.number });
      if (places.length > 1) line.append(svg("path", { d: `M${places.join("L")}` }));
      for (const date of track.dates) line.append(svg("circle", { cx: x(date), cy: y(track.visits.get(date).area), r: 2.4 }));
      line.append(svg("title", {}, words(track)));
      node.append(line);
    }
    node.append(svg("path", { class: "axis", d: `M${LEFT} ${TOP}V${TOP + plotHeight}H${WIDTH - RIGHT}` }));
    return PlotFrame.figure(title, node);
  }

  function hover(number) {
    table.setHot(number);
    PlotFrame.setHot(number);
  }
  function pick(number) {
    picked = picked === number ? null : number;
    table.setPicked(picked);
    PlotFrame.setPicked(picked);
    const line = document.querySelector(`#plots [data-spot="${picked}"]`);
    line?.parentNode.insertBefore(line, line.parentNode.lastChild);  // over its neighbours
  }
  function passing() {
    const limit = (id) => Number(byId(id).value || 0), core = several ? byId("filter-core").value : "";
    const seen = limit("filter-seen"), from = limit("filter-from");
    return (track) => (core === "" || track.core === core) && track.seen >= seen && track.last_area >= from;
  }
  const table = makeSortedTable({
    name: "track", columns, idOf: (track) => track.number, passing, none: "There are no tracks.", noneLeft: "No track passes the filter.",
    counted: (seen, all) => (seen === all ? `${all} tracks` : `${seen} of ${all} tracks`),
    goTo: (track) => `${words(track)}: show it in the plot`,
  }, { hover, pick, filtered: (left) => { for (const id of tracks.map((track) => track.number)) document.querySelector(`#plots [data-spot="${id}"]`)?.classList.toggle("dim", left.has(id)); } });

  const plots = byId("plots"), cores = island.cores.filter((core) => tracks.some((track) => track.core === core));
  plots.replaceChildren(...(cores.length ? cores.map(plotOf) : [html("p", {}, "There are no tracks.")]));
  table.setRows(tracks);
  const trackAt = (event) => {
    const node = event.target.closest?.("[data-spot]");
    return node ? Number(node.dataset.spot) : null;
  };
  plots.addEventListener("pointerover", (event) => hover(trackAt(event)));
  plots.addEventListener("pointerleave", () => hover(null));
  plots.addEventListener("click", (event) => { if (trackAt(event) !== null) pick(trackAt(event)); });
  document.documentElement.dataset.ready = "true";
})();
