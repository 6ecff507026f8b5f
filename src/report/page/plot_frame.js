"use strict";
// What every plot is made of: a frame with axes, bars, marks.

const PlotFrame = (() => {
  const { html, svg, fixed } = Elements;
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

  function blank(title, description, yTitle) {
    const node = svg("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": `${title}. ${description}` });
    node.append(text(4, 10, "start", yTitle));
    return node;
  }

  /** A place on the y axis: its line and its words. */
  function yTick(node, y, words) {
    node.append(svg("path", { class: "gridline", d: `M${LEFT} ${y}H${WIDTH - RIGHT}` }), text(LEFT - 6, y + 4, "end", words));
  }
  function xTick(node, x, words) {
    node.append(svg("path", { class: "gridline", d: `M${x} ${TOP}V${TOP + plotHeight}` }),
      text(x, TOP + plotHeight + 14, "middle", words));
  }

  /** Ticks that hold all values from `low` to `high`: {ticks: [{at, words}], low, high}. */
  function scale(low, high, whole) {
    const step = whole ? Math.max(1, tickStep(high - low)) : tickStep(high - low || 1);
    const first = Math.floor(low / step), last = Math.max(Math.ceil(high / step), first + 1);
    const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9)), ticks = [];
    for (let k = first; k <= last; ++k) ticks.push({ at: k * step, words: fixed(k * step, digits) });
    return { ticks, low: first * step, high: last * step };
  }

  /** Ticks of 1, 2, 5 times the powers of ten on an axis that goes by ratios. */
  function ratioScale(values) {
    const low = Math.min(...values) * 0.93, high = Math.max(...values) * 1.07;
    const first = Math.floor(Math.log10(low)), last = Math.floor(Math.log10(high));
    const at = (factors) => Array.from({ length: last - first + 1 }, (_, i) => first + i)
      .flatMap((decade) => factors.map((factor) => ({ at: factor * 10 ** decade, words: fixed(factor * 10 ** decade, Math.max(0, -decade)) })))
      .filter((tick) => tick.at >= low && tick.at <= high);
    const fine = at([1, 2, 5]), ticks = fine.length > 9 ? at([1]) : fine;
    return { ticks, share: (value) => Math.log(value / low) / Math.log(high / low) };
  }

  /** A frame with a y axis from `low` to at least `high`. */
  function frame(title, description, yTitle, low, high, whole) {
    const axis = scale(low, high, whole);
    const y = (value) => TOP + plotHeight * (1 - (value - axis.low) / (axis.high - axis.low));
    const node = blank(title, description, yTitle);
    for (const tick of axis.ticks) yTick(node, y(tick.at), tick.words);
    return { node, y };
  }

  /** The frame's x axis by ratios; gives back where a value lies. */
  function ratioAxis({ node }, values) {
    const axis = ratioScale(values), x = (value) => LEFT + plotWidth * axis.share(value);
    for (const tick of axis.ticks) xTick(node, x(tick.at), tick.words);
    return x;
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

  /** The marks of one spot stand out in every plot. */
  function mark(name, id) {
    for (const dot of document.querySelectorAll(`#plots .${name}`)) dot.classList.remove(name);
    if (id === null) return;
    for (const dot of document.querySelectorAll(`#plots [data-spot="${id}"]`)) dot.classList.add(name);
  }

  return { WIDTH, HEIGHT, LEFT, RIGHT, TOP, plotWidth, plotHeight, text, blank, yTick, xTick, scale, ratioScale,
    frame, ratioAxis, finish, figure, bars, setPicked: (id) => mark("picked", id), setHot: (id) => mark("hot", id) };
})();
