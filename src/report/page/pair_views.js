"use strict";
// What the table and the plots show of a pair's spots, for each of the two commands.

const PairViews = (() => {
  const { svg, fixed, significant, withInterval, isNumber } = Elements;
  const { LEFT, TOP, plotWidth, plotHeight } = PlotFrame;
  const STRIP = 30;  // beside either axis, for spots of one photo alone

  const plain = (key, decimals) => (row) => fixed(row[key], decimals);
  const number = (key, label, decimals) => ({ key, label, write: plain(key, decimals) });
  const area = (key, label) => ({ key, label, write: (row) => significant(row[key], 3) });
  const ids = (key, label) => ({ key, label, words: true, write: (row) => row[key] ?? "",
    value: (row) => (row[key] ? Number.parseInt(row[key], 10) : null) });

  function commonColumns({ first_word: first, second_word: second }) {
    return [
      { key: "row", label: "Row", write: (row) => String(row.row) },
      { key: "kind", label: "Class", words: true, value: (row) => row.kind_rank, write: (row) => `${row.sign} ${row.kind_words}`.trim() },
      ids(`${first}_ids`, `Spots ${first}`), ids(`${second}_ids`, `Spots ${second}`),
      number("x_mm", "x, mm", 2), number("y_mm", "y, mm", 2),
      area(`area_${first}_mm2`, `Area ${first}, mm²`), area(`area_${second}_mm2`, `Area ${second}, mm²`),
    ];
  }

  function columns(island) {
    const common = commonColumns(island);
    if (island.command === "compare")
      return [...common, { key: "area_change_mm2", label: "Change, mm²", write: (row) => withInterval(row.area_change_mm2, row.area_change_u95_mm2, 3) }];
    if (!island.absolute)
      return [...common, number("contrast_weber_dry", "Weber dry", 2), number("contrast_weber_wet", "Weber wet", 2)];
    return [...common, number("mean_L_dry", "L* dry", 1), number("mean_L_wet", "L* wet", 1),
      number("contrast_dL_dry", "ΔL* dry", 1), number("contrast_dL_wet", "ΔL* wet", 1), number("contrast_gain_dL", "Gain ΔL*", 1)];
  }

  /** Its class's sign, or a dot where that has none. */
  function mark(node, row, x, y) {
    const shape = row.sign ? PlotFrame.text(x, y + 4, "middle", row.sign) : svg("circle", { cx: x, cy: y, r: 3.4 });
    shape.setAttribute("class", row.sign ? "sign" : "dot");
    shape.setAttribute("data-spot", row.row);
    node.append(shape);
  }

  /** One photo's figure against the other's, on one scale; what one photo alone shows lies in the strip "none" of the other. */
  function againstEachOther(of) {
    const left = LEFT + STRIP, width = plotWidth - STRIP, height = plotHeight - STRIP, bottom = TOP + height;
    const node = PlotFrame.blank(of.title, of.about, of.yTitle);
    const x = (value) => left + width * of.share(value), y = (value) => bottom - height * of.share(value);
    for (const tick of of.ticks) {
      node.append(svg("path", { class: "gridline", d: `M${x(tick.at)} ${TOP}V${TOP + plotHeight}M${LEFT} ${y(tick.at)}H${LEFT + plotWidth}` }));
      node.append(PlotFrame.text(x(tick.at), TOP + plotHeight + 14, "middle", tick.words));
      node.append(PlotFrame.text(LEFT - 6, y(tick.at) + 4, "end", tick.words));
    }
    node.append(svg("path", { class: "mean", d: `M${left} ${bottom}L${left + width} ${TOP}` }));
    node.append(svg("path", { class: "axis", d: `M${left} ${TOP}V${bottom}H${left + width}` }));
    node.append(PlotFrame.text(LEFT + STRIP / 2, TOP + plotHeight + 14, "middle", "none"));
    node.append(PlotFrame.text(LEFT - 6, bottom + STRIP / 2 + 4, "end", "none"));
    for (const row of of.rows) {
      const first = row[of.first], second = row[of.second];
      mark(node, row, isNumber(first) ? x(first) : LEFT + STRIP / 2, isNumber(second) ? y(second) : bottom + STRIP / 2);
    }
    return PlotFrame.figure(of.title, PlotFrame.finish({ node }, of.xTitle));
  }

  function areas(rows) {
    const values = rows.flatMap((row) => [row.area_before_mm2, row.area_after_mm2]).filter(isNumber);
    return againstEachOther({
      title: "Area of each spot, before against after", about: `${rows.length} rows; on the line the area is the same; above it, larger after.`,
      ...PlotFrame.ratioScale(values), rows, first: "area_before_mm2", second: "area_after_mm2",
      xTitle: "area before, mm²", yTitle: "area after, mm²",
    });
  }

  /** A value against area; `bar` gives half of its interval. */
  function byArea(of) {
    const values = of.rows.map((row) => row[of.key]), bars = of.rows.map((row) => of.bar?.(row) ?? 0);
    const low = Math.min(0, ...values.map((value, i) => value - bars[i])), high = Math.max(0, ...values.map((value, i) => value + bars[i]));
    const plot = PlotFrame.frame(of.title, of.about, of.yTitle, low, high);
    const x = PlotFrame.ratioAxis(plot, of.rows.map((row) => row[of.area]));
    plot.node.append(svg("path", { class: "mean", d: `M${LEFT} ${plot.y(0)}H${LEFT + plotWidth}` }));
    of.rows.forEach((row, i) => {
      const at = x(row[of.area]);
      if (bars[i] > 0) plot.node.append(svg("path", { class: "interval", d: `M${at} ${plot.y(values[i] - bars[i])}V${plot.y(values[i] + bars[i])}` }));
      mark(plot.node, row, at, plot.y(values[i]));
    });
    return PlotFrame.figure(of.title, PlotFrame.finish(plot, of.xTitle));
  }

  function comparePlots(rows) {
    const both = rows.filter((row) => isNumber(row.area_before_mm2) && isNumber(row.area_after_mm2) && isNumber(row.area_change_mm2));
    const plots = [areas(rows)];
    if (both.length > 0)
      plots.push(byArea({
        title: "Change in area of the spots seen in both", about: `${both.length} rows, each with its 95 % interval.`, rows: both,
        key: "area_change_mm2", bar: (row) => row.area_change_u95_mm2, area: "area_before_mm2", yTitle: "mm²", xTitle: "area before, mm²",
      }));
    return plots;
  }

  function wetdryPlots(rows, absolute) {
    const [first, second, unit] = absolute ? ["contrast_dL_dry", "contrast_dL_wet", "ΔL*"] : ["contrast_weber_dry", "contrast_weber_wet", "Weber"];
    const values = rows.flatMap((row) => [row[first], row[second]]).filter(isNumber);
    if (values.length === 0) return [];
    const scale = PlotFrame.scale(Math.min(0, ...values), Math.max(...values));
    const plots = [againstEachOther({
      title: "Contrast of each spot, dry against wet", about: `${rows.length} rows; above the line a spot stands out more when wet.`,
      ...scale, share: (value) => (value - scale.low) / (scale.high - scale.low), rows, first, second,
      xTitle: `contrast dry, ${unit}`, yTitle: `contrast wet, ${unit}`,
    })];
    const gained = rows.filter((row) => isNumber(row.contrast_gain_dL));
    if (gained.length > 0)
      plots.push(byArea({
        title: "Gain in contrast of each spot, wet less dry", about: `${gained.length} spots seen in both states.`, rows: gained,
        key: "contrast_gain_dL", area: "area_dry_mm2", yTitle: "ΔL*", xTitle: "area dry, mm²",
      }));
    return plots;
  }

  const plots = (island, rows) => (island.command === "compare" ? comparePlots(rows) : wetdryPlots(rows, island.absolute));
  return { columns, plots };
})();
