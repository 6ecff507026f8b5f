"use strict";
// Sizes, contrast and place as plots, made anew whenever the figures change.

const Plots = (() => {
  const { html, svg, byId, fixed, significant } = Elements;
  const { WIDTH, LEFT, RIGHT, frame, ratioAxis, finish, figure, bars } = PlotFrame;

  function classRatio(name) {
    return { R5: 10 ** (1 / 5), R10: 10 ** (1 / 10), R20: 10 ** (1 / 20) }[name] ?? Math.SQRT2;
  }

  /** Classes as in sizes.csv: from <= ECD < to. */
  function sizeClasses(spots, ratio) {
    const step = Math.log(ratio), classOf = (ecd) => Math.floor(Math.log(ecd) / step + 1e-12);
    const ks = spots.map((spot) => classOf(spot.ecd_mm)), first = Math.min(...ks), last = Math.max(...ks);
    const classes = [];
    for (let k = first; k <= last; ++k) classes.push({ from: ratio ** k, to: ratio ** (k + 1), count: 0, area: 0 });
    spots.forEach((spot, i) => {
      classes[ks[i] - first].count += 1;
      classes[ks[i] - first].area += spot.area_mm2;
    });
    return classes;
  }

  function sizes(spots, ratio) {
    const classes = sizeClasses(spots, ratio);
    const labels = classes.map((c) => significant(c.from, 2)).concat(significant(classes[classes.length - 1].to, 2));
    const every = Math.max(1, Math.ceil(labels.length / 9));
    const largest = classes.reduce((a, b) => (b.count > a.count ? b : a));
    const about = `${classes.length} classes; most spots, ${largest.count}, from ${significant(largest.from, 2)} to ${significant(largest.to, 2)} mm.`;
    const counts = frame("Number of spots by size", about, "spots", 0, Math.max(...classes.map((c) => c.count)), true);
    bars(counts, classes.map((c) => c.count), labels, every);
    const areas = frame("Area of spots by size", about, "mm²", 0, Math.max(...classes.map((c) => c.area)));
    bars(areas, classes.map((c) => c.area), labels, every);
    const axis = "equivalent circular diameter, mm";
    return [figure("Number of spots by size", finish(counts, axis)), figure("Area of spots by size", finish(areas, axis))];
  }

  function contrast(spots, absolute) {
    const key = absolute ? "contrast_dL" : "contrast_weber", unit = absolute ? "ΔL*" : "Weber contrast";
    const values = spots.map((spot) => spot[key]), ecd = spots.map((spot) => spot.ecd_mm);
    const plot = frame("Contrast of each spot by size", `${unit} from ${fixed(Math.min(...values), 1)} to ${fixed(Math.max(...values), 1)}.`,
      unit, Math.min(0, ...values), Math.max(...values));
    const x = ratioAxis(plot, ecd);
    dots = new Map(spots.map((spot, i) => [spot.spot_id, { x: x(ecd[i]), y: plot.y(values[i]) }]));
    marker.style.display = "none";
    plot.node.append(...layersOf([...dots.values()]), marker);
    return figure("Contrast of each spot by size", finish(plot, "equivalent circular diameter, mm"));
  }

  let dots = new Map();  // of the spots in the plot of contrast
  const marker = svg("circle", { class: "dot picked", r: 3.4 });

  /** Dots as a few paths: an element each would cost the page more than all else in it. Dots of one path that overlap do not
   * add up to a darker place, those of different ones do. */
  function layersOf(places) {
    const LAYERS = 6, paths = new Array(Math.min(LAYERS, places.length)).fill("");
    places.forEach(({ x, y }, i) => { paths[i % LAYERS] += `M${x.toFixed(1)} ${y.toFixed(1)}h0`; });
    return paths.map((d) => svg("path", { class: "dots", d }));
  }
  function setPicked(id) {
    const place = dots.get(id);
    marker.style.display = place ? "" : "none";
    if (!place) return;
    marker.setAttribute("cx", place.x);
    marker.setAttribute("cy", place.y);
  }

  function meanLine(plot, value) {
    plot.node.append(svg("path", { class: "mean", d: `M${LEFT} ${plot.y(value)}H${WIDTH - RIGHT}` }));
  }

  /** Share of the area by ring and by sector, spots taken where their centres lie. */
  function placeOfSpots(spots, island, mean) {
    const reach = island.radius_mm - island.rim_band_mm, RINGS = 4, SECTORS = 12;
    const rings = new Array(RINGS).fill(0), sectors = new Array(SECTORS).fill(0);
    for (const spot of spots) {
      rings[Math.min(RINGS - 1, Math.floor(spot.r_mm / reach * RINGS))] += spot.area_mm2;
      sectors[Math.floor(((spot.clock_deg + 15) % 360) / 30)] += spot.area_mm2;
    }
    const disc = Math.PI * reach * reach;
    const ringPct = rings.map((area, i) => 100 * area / (disc * ((i + 1) ** 2 - i ** 2) / RINGS ** 2));
    const sectorPct = sectors.map((area) => 100 * area / (disc / SECTORS));
    const about = (values) => `From ${fixed(Math.min(...values), 2)} to ${fixed(Math.max(...values), 2)} %, whole face ${fixed(mean, 2)} %.`;
    const byRing = frame("Spot area by distance from the centre", about(ringPct), "% of the ring", 0, Math.max(mean, ...ringPct));
    bars(byRing, ringPct, rings.map((_, i) => fixed(i * reach / RINGS, 1)).concat(fixed(reach, 1)), 1);
    meanLine(byRing, mean);
    const bySector = frame("Spot area by the clock", about(sectorPct), "% of the sector", 0, Math.max(mean, ...sectorPct));
    bars(bySector, sectorPct, sectors.map((_, i) => `${i * 30}°`), 2);
    meanLine(bySector, mean);
    return [figure("Spot area by distance from the centre", finish(byRing, "distance from the centre, mm")),
      figure("Spot area by the clock", finish(bySector, "direction, 0° at the top of the photo"))];
  }

  function draw(island, result) {
    const { spots, figures } = result;
    byId("plots").closest("section").classList.toggle("long", spots.length > 300);
    dots = new Map();
    if (spots.length === 0) {
      byId("plots").replaceChildren(html("p", {}, "There are no spots."));
      return;
    }
    byId("plots").replaceChildren(
      ...sizes(spots, classRatio(island.size_classes)), contrast(spots, island.absolute),
      ...placeOfSpots(spots, island, figures.area_fraction_pct));
  }

  return { draw, setPicked };
})();
