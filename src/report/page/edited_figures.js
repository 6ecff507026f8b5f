"use strict";
// The figures after corrections: the same sums that the program does with --edits (src/edits/applying.cpp,
// src/measurement), from the same pixels. No part of the page is touched here.

const EditedFigures = (() => {
  const discArea = (diameter) => 0.25 * Math.PI * diameter * diameter;
  const ecdOf = (area) => Math.sqrt(4 * area / Math.PI);
  const lightness = (y) => (y > 216 / 24389 ? 116 * Math.cbrt(y) - 16 : 24389 / 27 * y);
  const luminanceOf = (L) => (L > 8 ? ((L + 16) / 116) ** 3 : L * 27 / 24389);

  /** Rows and columns of the pixels whose centres an outline holds; whole numbers throughout. */
  function pixelSpans(outline, grid) {
    const { mm_per_px: pitch, centre_px: centre, size_px: size, parts_of_pixel: parts } = grid;
    const corners = outline.map(([x, y]) => [
      Math.floor((x / pitch + centre) * parts + 0.5), Math.floor((centre - y / pitch) * parts + 0.5)]);
    const ys = corners.map((c) => c[1]);
    const first = Math.max(0, Math.ceil(Math.min(...ys) / parts));
    const last = Math.min(size - 1, Math.floor(Math.max(...ys) / parts));
    const spans = [];
    for (let row = first; row <= last; ++row) {
      const y = row * parts, crossings = [];
      for (let i = 0; i < corners.length; ++i) {
        let a = corners[i], b = corners[(i + 1) % corners.length];
        if (a[1] > b[1]) [a, b] = [b, a];
        if (y < a[1] || y >= b[1]) continue;
        const height = b[1] - a[1];
        crossings.push(Math.ceil((a[0] * height + (y - a[1]) * (b[0] - a[0])) / (height * parts)));
      }
      crossings.sort((p, q) => p - q);
      for (let i = 0; i + 1 < crossings.length; i += 2) {
        const from = Math.min(Math.max(crossings[i], 0), size), end = Math.min(Math.max(crossings[i + 1], 0), size);
        if (from < end) spans.push([row, from, end]);
      }
    }
    return spans;
  }

  function convexHull(points) {
    const sorted = points.slice().sort((a, b) => a[0] - b[0] || a[1] - b[1]);
    const turn = (o, a, b) => (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
    const chain = (list) => {
      const hull = [];
      for (const p of list) {
        while (hull.length > 1 && turn(hull[hull.length - 2], hull[hull.length - 1], p) <= 0) hull.pop();
        hull.push(p);
      }
      hull.pop();
      return hull;
    };
    return chain(sorted).concat(chain(sorted.reverse()));
  }

  function polygonArea(points) {
    let sum = 0;
    points.forEach(([x, y], i) => {
      const [u, v] = points[(i + 1) % points.length];
      sum += x * v - u * y;
    });
    return Math.abs(sum) / 2;
  }

  /** Feret diameters, Crofton perimeter, solidity and centre of a spot's own pixels (src/shape). */
  function pixelShape(labels, n, id, box) {
    const has = (x, y) => x >= 0 && y >= 0 && x < n && y < n && labels[y * n + x] === id;
    let straight = 0, diagonal = 0, count = 0, sumX = 0, sumY = 0;
    const corners = [];
    for (let y = box.top; y <= box.bottom; ++y) {
      let first = -1, last = -1;
      for (let x = box.left; x <= box.right; ++x) {
        if (!has(x, y)) continue;
        if (first < 0) first = x;
        last = x;
        ++count;
        sumX += x;
        sumY += y;
        straight += !has(x - 1, y) + !has(x, y - 1);
        diagonal += !has(x - 1, y - 1) + !has(x + 1, y - 1);
      }
      if (first >= 0)
        for (const x of [first - 0.5, last + 0.5]) corners.push([x, y - 0.5], [x, y + 0.5]);
    }
    const hull = convexHull(corners);
    let longest = 0, narrowest = Infinity;
    hull.forEach((a, i) => {
      const b = hull[(i + 1) % hull.length], side = Math.hypot(b[0] - a[0], b[1] - a[1]);
      let reach = 0;
      for (const c of hull) {
        longest = Math.max(longest, Math.hypot(c[0] - a[0], c[1] - a[1]));
        reach = Math.max(reach, Math.abs((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / side);
      }
      narrowest = Math.min(narrowest, reach);
    });
    return {
      count, x: sumX / count, y: sumY / count, longest, narrowest,
      perimeter: Math.PI / 4 * (straight + diagonal / Math.SQRT2), solidity: count / polygonArea(hull),
    };
  }

  function boxOf(labels, n, id) {
    const box = { left: n, right: -1, top: n, bottom: -1 };
    for (let i = labels.indexOf(id); i >= 0; i = labels.indexOf(id, i + 1)) {
      const y = Math.floor(i / n), x = i - y * n;
      box.left = Math.min(box.left, x);
      box.right = Math.max(box.right, x);
      box.top = Math.min(box.top, y);
      box.bottom = Math.max(box.bottom, y);
    }
    return box;
  }

  /** Mean luminance of the matrix away from flanks, from the page's 8-bit light. */
  function matrixMean(island, maps, labels, outside) {
    const { n, half, light, pits, luminance } = maps;
    const { matrix_distance_px: reach, least_matrix_pixels: least } = island.sums, { glare } = island.pixel_values;
    const taken = new Uint8Array(half * half), wide = new Uint8Array(half * half);
    for (let y = 0, i = 0; y < half; ++y)
      for (let x = 0; x < half; ++x, ++i) {
        const at = 2 * y * n + 2 * x;
        taken[i] = labels[at] !== 0 || pits[i] !== 0 || outside[at] === glare ? 1 : 0;
      }
    const spread = (from, to, step, line) => {
      for (let k = 0; k < half; ++k) {
        const start = k * line;
        let sum = 0;
        for (let j = 0; j < Math.min(reach, half); ++j) sum += from[start + j * step];
        for (let j = 0; j < half; ++j) {
          if (j + reach < half) sum += from[start + (j + reach) * step];
          if (j - reach - 1 >= 0) sum -= from[start + (j - reach - 1) * step];
          to[start + j * step] = sum > 0 ? 1 : 0;
        }
      }
    };
    const rows = new Uint8Array(half * half);
    spread(taken, rows, 1, half);
    spread(rows, wide, half, 1);
    const meanOver = (blocked) => {
      let sum = 0, count = 0;
      for (let y = 0, i = 0; y < half; ++y)
        for (let x = 0; x < half; ++x, ++i)
          if (outside[2 * y * n + 2 * x] === 0 && blocked[i] === 0) {
            sum += luminance[light[i]];
            ++count;
          }
      return { mean: sum / count, count };
    };
    const away = meanOver(wide);
    return away.count >= least ? away.mean : meanOver(taken).mean;
  }

  /** Mean luminance over a spot's pixels on the grid of the light. */
  function spotMean(maps, labels, id, box) {
    const { n, half, light, luminance } = maps;
    let sum = 0, count = 0;
    for (let y = 2 * ((box.top + 1) >> 1); y <= box.bottom; y += 2)
      for (let x = 2 * ((box.left + 1) >> 1); x <= box.right; x += 2)
        if (labels[y * n + x] === id) {
          sum += luminance[light[(y >> 1) * half + (x >> 1)]];
          ++count;
        }
    if (count > 0) return sum / count;
    const middle = [(box.left + box.right + 1) >> 1, (box.top + box.bottom + 1) >> 1];
    return luminance[light[(middle[1] >> 1) * half + (middle[0] >> 1)]];
  }

  /** ISO 9276-1 undersize curve: the k-th of n sorted values stands at 100 (k - 1/2) / n. */
  function percentile(values, percent) {
    const sorted = values.slice().sort((a, b) => a - b), n = sorted.length;
    const place = Math.min(Math.max(percent / 100 * n - 0.5, 0), n - 1), low = Math.floor(place);
    return low + 1 < n ? sorted[low] + (place - low) * (sorted[low + 1] - sorted[low]) : sorted[low];
  }

  /** Spots as they were found, by columns of spots.csv. */
  function foundSpots(island) {
    const columns = island.spots.columns;
    // A copy of one that has all keys: adding them one by one, spot for spot, takes several times as long.
    const blank = { origin: "found", area_px: 0, u_area_px: 0, L_given_back: 0, may_be_reflection: false, ...Object.fromEntries(columns.map((column) => [column, null])) };
    return island.spots.rows.map((row, i) => {
      const spot = { ...blank }, px = island.spot_px[i];
      spot.area_px = px[0];
      spot.u_area_px = px[1];
      spot.L_given_back = px[2];
      spot.may_be_reflection = px[3] === 1;
      for (let k = 0; k < columns.length; ++k) spot[columns[k]] = row[k];
      return spot;
    });
  }

  function budgetOf(island, figure) {
    return island.budgets.find((budget) => budget.figure === figure);
  }

  /** u of a figure from its budget, with the components that the corrections move put anew. */
  function recombined(budget, moved) {
    if (!budget) return null;
    return Math.hypot(...budget.components.map((c) => (c.name in moved ? moved[c.name] : c.contribution)));
  }

  function componentOf(budget, name) {
    return budget?.components.find((c) => c.name === name);
  }

  class Editing {
    constructor(island, maps, edits) {
      this.island = island;
      this.maps = maps;
      this.edits = edits;
      this.labels = maps.labels.slice();
      this.outside = maps.outside.slice();
      this.spots = foundSpots(island);
      this.struck = new Set();
      this.outcomes = edits.map(() => ({ ids: [], area_px: 0, fault: "" }));
      this.least_px = discArea(island.min_spot_mm / island.grid.mm_per_px);
    }

    run() {
      this.strike();
      this.add();
      this.exclude();
      this.measured_px = 0;
      for (let i = 0; i < this.outside.length; ++i) if (this.outside[i] === 0) ++this.measured_px;
      return this;
    }

    strike() {
      this.edits.forEach((edit, i) => {
        if (edit.edit !== "strike" && edit.edit !== "restore") return;
        const spot = this.spots.find((s) => s.spot_id === edit.spot_id);
        if (!spot) {
          this.outcomes[i].fault = `there is no spot ${edit.spot_id}`;
          return;
        }
        const strikes = edit.edit === "strike";
        if (this.struck.has(edit.spot_id) === strikes)
          this.outcomes[i].fault = `spot ${edit.spot_id} is ${strikes ? "struck already" : "not struck"}`;
        if (strikes) this.struck.add(edit.spot_id);
        else this.struck.delete(edit.spot_id);
        this.outcomes[i].ids = [edit.spot_id];
        this.outcomes[i].area_px = spot.area_px;
      });
      if (this.struck.size > 0)
        for (let i = 0; i < this.labels.length; ++i)
          if (this.labels[i] !== 0 && this.struck.has(this.labels[i])) this.labels[i] = 0;
      this.spots = this.spots.filter((spot) => !this.struck.has(spot.spot_id));
    }

    add() {
      const n = this.maps.n, pitch = this.island.grid.mm_per_px;
      let id = Math.max(0, ...this.island.spots.rows.map((row) => row[0]));
      this.edits.forEach((edit, i) => {
        if (edit.edit !== "add") return;
        let count = 0;
        for (const [row, from, end] of pixelSpans(edit.outline_mm, this.island.grid))
          for (let at = row * n + from; at < row * n + end; ++at)
            if (this.labels[at] === 0 && this.outside[at] === 0) {
              this.labels[at] = id + 1;
              ++count;
            }
        const corners = edit.outline_mm;
        const around = corners.reduce((sum, [x, y], k) => {
          const [u, v] = corners[(k + 1) % corners.length];
          return sum + Math.hypot(u - x, v - y);
        }, 0);
        if (count < this.least_px) {
          this.outcomes[i].fault = count === 0
            ? "nothing of it lies in the measured area beside other spots"
            : `it is smaller than the smallest spot reported, ${this.island.min_spot_mm} mm`;
        }
        this.outcomes[i].ids = [id + 1];
        this.outcomes[i].area_px = count;
        this.spots.push({
          spot_id: ++id, origin: "drawn", area_px: count, touches_rim: "false",
          u_area_px: around / pitch * this.island.sums.drawn_edge_mm / pitch, outline_mm: corners,
        });
      });
    }

    exclude() {
      const n = this.maps.n, touched = new Set();
      this.edits.forEach((edit, i) => {
        if (edit.edit !== "exclude") return;
        const here = new Set();
        for (const [row, from, end] of pixelSpans(edit.outline_mm, this.island.grid))
          for (let at = row * n + from; at < row * n + end; ++at) {
            if (this.outside[at] !== 0) continue;
            this.outside[at] = this.island.pixel_values.edit;
            ++this.outcomes[i].area_px;
            if (this.labels[at] !== 0) here.add(this.labels[at]);
          }
        this.outcomes[i].ids = [...here].sort((a, b) => a - b);
        for (const id of here) touched.add(id);
      });
      this.spots = this.spots.filter((spot) => !touched.has(spot.spot_id) || this.keepCut(spot));
    }

    keepCut(spot) {
      let all = 0, left = 0;
      for (let i = this.labels.indexOf(spot.spot_id); i >= 0; i = this.labels.indexOf(spot.spot_id, i + 1)) {
        ++all;
        if (this.outside[i] === 0) ++left;
        else this.labels[i] = 0;
      }
      const share = left / all;
      if (share * spot.area_px < this.least_px) {
        for (let i = this.labels.indexOf(spot.spot_id); i >= 0; i = this.labels.indexOf(spot.spot_id, i + 1)) {
          this.labels[i] = 0;
          this.outside[i] = this.island.pixel_values.edit;
        }
        return false;
      }
      spot.area_px *= share;
      spot.u_area_px *= share;
      if (spot.origin === "found") spot.origin = "cut";
      return true;
    }

    /** Figures of a spot that was cut or drawn, by its pixels. */
    measureByPixels(spot, base, reference) {
      const { grid, scale_u_rel: scale } = this.island, pitch = grid.mm_per_px;
      const box = boxOf(this.labels, this.maps.n, spot.spot_id);
      const shape = pixelShape(this.labels, this.maps.n, spot.spot_id, box);
      const area = spot.area_px * pitch * pitch;
      spot.x_mm = (shape.x - grid.centre_px) * pitch;
      spot.y_mm = (grid.centre_px - shape.y) * pitch;
      spot.r_mm = Math.hypot(spot.x_mm, spot.y_mm);
      const clock = Math.atan2(spot.x_mm, spot.y_mm) * 180 / Math.PI;
      spot.clock_deg = clock < 0 ? clock + 360 : clock;
      spot.area_mm2 = area;
      spot.area_u95_mm2 = this.island.sums.coverage * Math.hypot(spot.u_area_px * pitch * pitch, 2 * scale * area);
      spot.ecd_mm = ecdOf(area);
      spot.feret_max_mm = shape.longest * pitch;
      spot.feret_min_mm = shape.narrowest * pitch;
      spot.perimeter_mm = shape.perimeter * pitch;
      spot.form_factor = 4 * Math.PI * area / spot.perimeter_mm ** 2;
      spot.aspect_ratio = shape.narrowest / shape.longest;
      spot.solidity = shape.solidity;
      spot.relative = spotMean(this.maps, this.labels, spot.spot_id, box) / reference;
      spot.mean_L = base === null ? null : lightness(spot.relative * base);
      spot.L_given_back = 0;
      spot.peak_L = null;  // a high percentile wants more than 8 bits
    }
  }

  function lightFigures(editing, figures, matrix, base) {
    const { spots } = editing;
    let area = 0, weightedL = 0, weightedY = 0;
    for (const spot of spots) {
      spot.contrast_weber = spot.relative / matrix - 1;
      spot.contrast_dL = base === null ? null : spot.mean_L - figures.matrix_L;
      area += spot.area_px;
      weightedL += spot.area_px * spot.mean_L;
      weightedY += spot.area_px * spot.relative;
    }
    const any = spots.length > 0;
    figures.contrast_weber = any ? weightedY / area / matrix - 1 : null;
    figures.spot_L = any && base !== null ? weightedL / area : null;
    figures.contrast_dL = any && base !== null ? figures.spot_L - figures.matrix_L : null;
    figures.contrast_dE00 = null;  // wants the colour of every pixel, which the page does not hold
  }

  function boundaryDoubt({ island, spots }) {
    const squares = spots.reduce((sum, s) => sum + s.u_area_px ** 2, 0);
    const sum = spots.reduce((total, s) => total + s.u_area_px, 0);
    return { own: Math.sqrt(squares), shared: island.sums.shared_boundary * sum };
  }

  function areaUncertainty(editing, figures) {
    const { island, spots } = editing, { sums } = island, budget = budgetOf(island, "area_fraction_pct");
    const perPx = 100 / Math.max(editing.measured_px, 1), fraction = figures.area_fraction_pct;
    const edge = boundaryDoubt(editing);
    const marginal = spots.reduce(
      (total, s) => total + (s.ecd_mm < sums.near_size_limit * island.min_spot_mm ? s.area_px ** 2 : 0), 0);
    const atRim = spots.reduce((total, s) => total + (s.touches_rim === "true" ? s.area_px : 0), 0);
    const reflecting = spots.reduce((total, s) => total + (s.may_be_reflection ? s.area_px : 0), 0);
    const rim = island.radius_mm / Math.max(island.radius_mm - island.rim_band_mm, 1e-9);
    const u = (name) => componentOf(budget, name)?.standard_uncertainty ?? 0;
    return recombined(budget, {
      "boundary, each spot": edge.own * perPx,
      "boundary, all spots": edge.shared * perPx,
      "one smallest spot": u("one smallest spot") * perPx,
      "faint regions": u("faint regions") * perPx,
      "possible reflections": sums.ragged_is_reflection * reflecting * perPx,
      "spots at the rim": sums.rim_is_chip * atRim * perPx,
      "spots at the size limit": sums.doubt_at_size_limit * Math.sqrt(marginal) * perPx,
      "light field": u("light field") * sums.light_in_area * fraction,
      "exclusion": u("exclusion") * 2 * fraction * rim,
    });
  }

  function contrastUncertainty(editing, figures) {
    const { sums } = editing.island, budget = budgetOf(editing.island, "contrast_dL");
    if (!budget || figures.contrast_dL === null) return null;
    const slope = (L) => (L + 16) / 3, both = Math.abs(slope(figures.spot_L) - slope(figures.matrix_L));
    const area = editing.spots.reduce((sum, s) => sum + s.area_px, 0);
    const edge = boundaryDoubt(editing);
    const givenBack = editing.spots.reduce((sum, s) => sum + s.area_px * (s.L_given_back ?? 0), 0);
    const underSpots = slope(figures.spot_L) / Math.sqrt(Math.max(1, editing.spots.length / sums.spots_of_one_light));
    const u = (name) => componentOf(budget, name)?.standard_uncertainty ?? 0;
    return recombined(budget, {
      "card level": u("card level") * both,
      "card reflectance": u("card reflectance") * both,
      "tone curve": u("tone curve") * Math.abs(figures.contrast_dL),
      "card place": u("card place") * both,
      "light field": u("light field") * underSpots,
      "plaster's drift": u("plaster's drift") * underSpots,
      "light given back": sums.doubt_of_giving_back * givenBack / area,
      "boundary": Math.hypot(edge.own, edge.shared) / area * sums.boundary_in_contrast * Math.abs(figures.contrast_dL),
    });
  }

  function areaFigures(editing, figures) {
    const { island, spots, outside, maps } = editing, pixel = island.grid.mm_per_px ** 2;
    const area = spots.reduce((sum, s) => sum + s.area_px, 0) * pixel;
    figures.measured_area_mm2 = editing.measured_px * pixel;
    figures.spot_area_mm2 = area;
    figures.spot_count = spots.length;
    figures.spot_density_per_cm2 = 100 * spots.length / figures.measured_area_mm2;
    figures.area_fraction_pct = 100 * area / figures.measured_area_mm2;
    const ecd = spots.map((s) => s.ecd_mm), any = ecd.length > 0;
    for (const p of [10, 50, 90]) figures[`ecd_d${p}_mm`] = any ? percentile(ecd, p) : null;
    figures.ecd_max_mm = any ? Math.max(...ecd) : null;
    const pits = island.pits.filter(([x, y]) => outside[y * maps.n + x] !== island.pixel_values.edit);
    figures.pit_count = pits.length;
    figures.pit_area_fraction_pct = 100 * pits.reduce((sum, p) => sum + p[2], 0) / Math.max(editing.measured_px, 1);
  }

  /** The matrix before any correction, which every correction is held against. */
  function prepare(island, maps) {
    maps.matrix ??= matrixMean(island, maps, maps.labels, maps.outside);
  }

  /**
   * {figures, spots, struck, outcomes}: figures by the columns of summary.csv, spots by those of spots.csv with
   * `origin`, struck spots' numbers, and for each edit {ids, area_px, fault}.
   */
  function apply(island, maps, edits) {
    const editing = new Editing(island, maps, edits).run();
    prepare(island, maps);
    const figures = { ...island.figures };
    const base = island.absolute ? luminanceOf(figures.matrix_L) : null;
    const matrix = matrixMean(island, maps, editing.labels, editing.outside) / maps.matrix;
    for (const spot of editing.spots) {
      if (spot.origin === "found") spot.relative = 1 + spot.contrast_weber;
      else editing.measureByPixels(spot, base, maps.matrix);
    }
    if (base !== null) figures.matrix_L = lightness(base * matrix);
    areaFigures(editing, figures);
    lightFigures(editing, figures, matrix, base);
    const u = areaUncertainty(editing, figures), uContrast = contrastUncertainty(editing, figures);
    figures.area_fraction_u95_pct = u === null ? null : island.sums.coverage * u;
    figures.contrast_dL_u95 = uContrast === null ? null : island.sums.coverage * uContrast;
    return { figures, spots: editing.spots, struck: editing.struck, outcomes: editing.outcomes };
  }

  /** The same without any edit, which needs no maps. */
  function unedited(island) {
    return { figures: island.figures, spots: foundSpots(island), struck: new Set(), outcomes: [] };
  }

  return { apply, prepare, unedited };
})();
