"use strict";
// Sizes, contrast and place as plots, made anew whenever the figures change.

const Plots = (() => {
  const { html, svg, byId, fixed, significant } = Elements;
  const WIDTH = 340, HEIGHT = 230, LEFT = 46, RIGHT = 12, TOP = 24, BOTTOM = 40;
  const plotWidth = WIDTH - LEFT - RIGHT, plotHeight = HEIGHT - TOP - BOTTOM;

  /** Step of 1, 2 or 5 times a power of ten that divides the axis into five parts at most. */
  function tickStep(range) {
    const decade = 10 ** Math.floor(Math.log10(Math.max(range, 1e-9) / 5));
    return [1, 2, 5, 10].map((factor) => factor * decade).find((step) => step * 5 >= range * 0.999999);
  }

  function text(x, y, anchor, words) {
    const node = svg("text", { x, y, "text-anchor": anchor });
    node.textContent = words;
    return node;
  }

  /** A frame with a y axis from `low` to at least `high`. */
  function frame(title, description, yTitle, low, high, whole) {
    const step = whole ? Math.max(1, tickStep(high - low)) : tickStep(high - low || 1);
    const bottom = Math.floor(low / step) * step, top = Math.max(Math.ceil(high / step), Math.floor(low / step) + 1) * step;
    const y = (value) => TOP + plotHeight * (1 - (value - bottom) / (top - bottom));
    const node = svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": `${title}. ${description}` });
    const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    for (let tick = bottom; tick <= top + step / 2; tick += step) {
      node.append(svg("path", { class: "gridline", d: `M${LEFT} ${y(tick)}H${WIDTH - RIGHT}` }));
      node.append(text(LEFT - 6, y(tick) + 4, "end", fixed(tick, digits)));
    }
    node.append(text(4, 10, "start", yTitle));
    return { node, y };
  }

  function finish({ node }, xTitle) {
    node.append(svg("path", { class: "axis", d: `M${LEFT} ${TOP}V${TOP + plotHeight}H${WIDTH - RIGHT}` }));
    node.append(text(LEFT + plotWidth / 2, HEIGHT - 4, "middle", xTitle));
    return node;
  }

  function figure(title, node) {
    return html("figure", {}, html("figcaption", {}, title), node);
  }

  function bars(plot, values, labels, every) {
    const width = plotWidth / values.length, base = TOP + plotHeight;
    values.forEach((value, i) => {
      const bar = svg("rect", { class: "bar", x: LEFT + i * width + 1, width: Math.max(width - 2, 1), y: plot.y(value), height: Math.max(base - plot.y(value), 0) });
      if (value > 0) plot.node.append(bar);
    });
    labels.forEach((label, i) => {
      if (i % every) return;
      const x = LEFT + i * plotWidth / (labels.length > values.length ? values.length : labels.length) +
        (labels.length > values.length ? 0 : width / 2);
      plot.node.append(text(x, base + 14, "middle", label));
    });
  }

  function classRatio(name) {
    return { R5: 10 ** (1 / 5), R10: 10 ** (1 / 10), R20: 10 ** (1 / 20) }[name] ?? Math.SQRT2;
  }

  /** Classes as in sizes.csv: from <= ECD < to. */
  function sizeClasses(spots, ratio) {
    const classOf = (ecd) => Math.floor(Math.log(ecd) / Math.log(ratio) + 1e-12);
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
    const low = Math.log(Math.min(...ecd) * 0.93), high = Math.log(Math.max(...ecd) * 1.07);
    const x = (value) => LEFT + plotWidth * (Math.log(value) - low) / (high - low);
    for (const tick of [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50])
      if (Math.log(tick) >= low && Math.log(tick) <= high) {
        plot.node.append(svg("path", { class: "gridline", d: `M${x(tick)} ${TOP}V${TOP + plotHeight}` }));
        plot.node.append(text(x(tick), TOP + plotHeight + 14, "middle", String(tick)));
      }
    spots.forEach((spot, i) => plot.node.append(svg("circle", { class: "dot", "data-spot": spot.spot_id, cx: x(ecd[i]), cy: plot.y(values[i]), r: 3.4 })));
    return figure("Contrast of each spot by size", finish(plot, "equivalent circular diameter, mm"));
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
    if (spots.length === 0) {
      byId("plots").replaceChildren(html("p", {}, "There are no spots."));
      return;
    }
    byId("plots").replaceChildren(
      ...sizes(spots, classRatio(island.size_classes)), contrast(spots, island.absolute),
      ...placeOfSpots(spots, island, figures.area_fraction_pct));
  }

  function setPicked(id) {
    for (const dot of document.querySelectorAll("#plots .dot"))
      dot.classList.toggle("picked", Number(dot.dataset.spot) === id);
  }

  return { draw, setPicked };
})();
