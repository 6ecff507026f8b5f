"use strict";
// The face with its spots: zoom, layers, lightness, what lies under the pointer, and drawing an outline.

function makePicture(island, events) {
  const { svg: svgNode, byId } = Elements;
  const svg = byId("picture"), stage = byId("stage"), tip = byId("tip");
  const whole = svg.viewBox.baseVal.width;
  const grid = island.grid;
  let view = { x: 0, y: 0, size: whole }, drawing = null, casings = null;
  let side = null;  // of the picture on the screen, px; told by the browser once it is laid out, since asking makes it lay out then and there
  const letters = byId("layer-numbers");
  const nodes = new Map(), numbers = new Map();
  // Not by `dataset` and `classList` where all are gone through: each makes an object a node, thousands while the page opens.
  const idOf = (node) => Number(node.getAttribute("data-spot"));
  for (const node of svg.querySelectorAll(".spot")) nodes.set(idOf(node), node);
  for (const node of letters.querySelectorAll("text")) numbers.set(idOf(node), node);

  // --- zoom and pan

  const pxPerUnit = () => (side || view.size) / view.size;

  function showView() {
    view.size = Math.min(Math.max(view.size, whole / 40), whole);
    view.x = Math.min(Math.max(view.x, 0), whole - view.size);
    view.y = Math.min(Math.max(view.y, 0), whole - view.size);
    const box = `${view.x} ${view.y} ${view.size} ${view.size}`;
    if (svg.getAttribute("viewBox") !== box) svg.setAttribute("viewBox", box);
    // A finger on the whole face scrolls the page, or a phone's reader could not get past the picture.
    svg.classList.toggle("kept", view.size < whole || Boolean(drawing));
    if (side === null) return;
    const scale = pxPerUnit();
    letters.style.setProperty("--letter", `${13 / scale}px`);
    showNumbers(scale);
    showRuler(scale);
    events.viewed?.(view);
  }

  function addNumber(id, x, y) {
    const text = svgNode("text", { "data-spot": id, x, y });
    text.textContent = id;
    letters.append(text);
    numbers.set(id, text);
    return text;
  }

  /** Numbers that would lie over one another tell nothing: small spots get theirs when they are looked at closely. */
  function showNumbers(scale) {
    const room = nodes.size > 300 ? 22 : nodes.size > 60 ? 11 : 0, wanting = [];
    for (const id of nodes.keys()) {
      const spot = events.spot(id), roomy = (spot?.ecd_mm ?? 0) / grid.mm_per_px * scale >= room;
      if (numbers.has(id)) numbers.get(id).classList.toggle("roomy", roomy);
      else if (roomy && spot && inView(spot)) wanting.push(spot);
    }
    // All sizes are asked for before anything is added: an answer after a change costs the layout of all of it.
    const boxes = wanting.map(({ spot_id }) => nodes.get(spot_id).getBBox());
    wanting.forEach(({ spot_id, x_mm, y_mm }, i) => {
      const text = addNumber(spot_id, boxes[i].x + boxes[i].width, toUnits([x_mm, y_mm]).y);
      text.classList.add("roomy");
      text.style.visibility = uncounted(spot_id) ? "hidden" : "";
    });
  }

  function showRuler(scale) {
    const ruler = byId("ruler"), mm = Number(ruler.dataset.mm);
    let length = mm, width = Number(ruler.dataset.px) * scale;
    while (width > 160) { width /= 2; length /= 2; }
    byId("ruler-bar").style.width = `${width}px`;
    byId("ruler-text").textContent = `${Number(length.toPrecision(3))} mm`;
  }

  function zoomBy(factor, at) {
    const about = at || { x: view.x + view.size / 2, y: view.y + view.size / 2 };
    const size = Math.min(Math.max(view.size / factor, whole / 40), whole);
    view.x = about.x - (about.x - view.x) * size / view.size;
    view.y = about.y - (about.y - view.y) * size / view.size;
    view.size = size;
    showView();
  }

  function place(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    return { x: point.x, y: point.y };
  }

  /** Brings a spot into view if it is outside of it. */
  function reveal(id) {
    const box = nodes.get(id)?.getBBox();
    if (!box) return;
    const inside = box.x >= view.x && box.y >= view.y && box.x + box.width <= view.x + view.size &&
      box.y + box.height <= view.y + view.size;
    if (inside) return;
    view.x = box.x + box.width / 2 - view.size / 2;
    view.y = box.y + box.height / 2 - view.size / 2;
    showView();
  }

  byId("zoom-in").addEventListener("click", () => zoomBy(1.6));
  byId("zoom-out").addEventListener("click", () => zoomBy(1 / 1.6));
  byId("zoom-whole").addEventListener("click", () => { view = { x: 0, y: 0, size: whole }; showView(); });
  // Only with Ctrl, as in the rest of the browser: a page that catches the wheel cannot be scrolled past.
  svg.addEventListener("wheel", (event) => {
    if (!event.ctrlKey && !event.metaKey) return;
    event.preventDefault();
    zoomBy(Math.exp(-event.deltaY / 300), place(event));
  }, { passive: false });

  // --- layers and lightness

  const alone = byId("photo-alone");
  /** What a layer without its check mark leaves out is said by the style sheet. */
  function showLayers() {
    for (const box of document.querySelectorAll("#layers [data-layer]"))
      svg.classList.toggle(`without-${box.dataset.layer}`, !box.checked || alone.checked);
    showCasings();
  }
  byId("layers").addEventListener("change", showLayers);

  function showLightness() {
    const bright = Number(byId("brightness").value), contrast = Number(byId("contrast").value);
    byId("photo").style.filter = bright === 1 && contrast === 1 ? "" : `brightness(${bright}) contrast(${contrast})`;
  }
  byId("lightness").addEventListener("input", showLightness);
  byId("lightness-reset").addEventListener("click", () => {
    byId("brightness").value = 1;
    byId("contrast").value = 1;
    showLightness();
  });

  // --- what is pointed at

  let hot = null, picked = null;
  const spotAt = (target) => {
    const node = target.closest?.(".spot");
    return node ? Number(node.dataset.spot) : null;
  };

  function showTip(id) {
    const words = id === null ? "" : events.words(id);
    tip.hidden = !words;
    if (!words) return;
    tip.textContent = words;
    const box = nodes.get(id).getBoundingClientRect(), frame = stage.getBoundingClientRect();
    const left = Math.min(Math.max(box.right - frame.left + 8, 4), Math.max(frame.width - tip.offsetWidth - 4, 4));
    const top = Math.min(Math.max(box.top - frame.top - tip.offsetHeight - 6, 4), frame.height - tip.offsetHeight - 4);
    tip.style.left = `${left}px`;
    tip.style.top = `${top}px`;
  }

  function setHot(id) {
    if (hot === id) return;
    nodes.get(hot)?.classList.remove("hot");
    hot = id;
    nodes.get(hot)?.classList.add("hot");
    showTip(hot ?? null);
  }

  function setPicked(id) {
    const before = nodes.get(picked);
    before?.classList.remove("picked");
    before?.setAttribute("aria-pressed", "false");
    picked = id;
    const now = nodes.get(picked);
    now?.classList.add("picked");
    now?.setAttribute("aria-pressed", "true");
    if (id !== null && before !== now) reveal(id);
  }

  svg.addEventListener("pointerover", (event) => { if (!drawing) events.hover(spotAt(event.target)); });
  svg.addEventListener("pointerleave", () => events.hover(null));
  svg.addEventListener("focusin", (event) => {
    const id = spotAt(event.target);
    events.hover(id);
    if (id !== null && event.target.matches(":focus-visible")) reveal(id);  // by keys, in a picture that is zoomed
  });
  svg.addEventListener("focusout", () => events.hover(null));

  // --- pointers: a drag pans, two fingers zoom, a click picks; while drawing, clicks and drags set corners

  const down = new Map();
  let moved = false, pinch = 0;

  svg.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    moved = false;
    pinch = 0;
    svg.setPointerCapture(event.pointerId);
    if (drawing && down.size === 1) drawing.stroke = [];
  });

  function pinchOrPan(event, last) {
    if (down.size === 2) {
      const [a, b] = [...down.values()];
      const width = Math.hypot(a.x - b.x, a.y - b.y);
      if (pinch > 0) zoomBy(width / pinch, place({ clientX: (a.x + b.x) / 2, clientY: (a.y + b.y) / 2 }));
      pinch = width;
      return;
    }
    const scale = pxPerUnit();
    view.x -= (event.clientX - last.x) / scale;
    view.y -= (event.clientY - last.y) / scale;
    svg.classList.add("panning");
    showView();
  }

  svg.addEventListener("pointermove", (event) => {
    const last = down.get(event.pointerId);
    if (!last) return;
    const far = Math.hypot(event.clientX - last.x, event.clientY - last.y);
    if (!moved && far < 4) return;
    moved = true;
    if (drawing && down.size === 1) {
      if (far >= 4) {
        drawing.stroke.push(place(event));
        down.set(event.pointerId, { x: event.clientX, y: event.clientY });
        showDrawing();
      }
      return;
    }
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    pinchOrPan(event, last);
  });

  function lift(event) {
    if (!down.delete(event.pointerId)) return;
    svg.classList.remove("panning");
    if (drawing) {
      drawing.corners.push(...(moved ? drawing.stroke : [place(event)]));
      drawing.stroke = [];
      showDrawing();
      drawing.changed(cornersInMm());
      return;
    }
    if (moved || event.type === "pointercancel") return;
    const under = document.elementFromPoint(event.clientX, event.clientY);
    events.pick(under ? spotAt(under) : null);
  }
  svg.addEventListener("pointerup", lift);
  svg.addEventListener("pointercancel", lift);

  // --- drawing

  const toMm = ({ x, y }) => [
    Number(((x - 0.5 - grid.centre_px) * grid.mm_per_px).toFixed(4)),
    Number(((grid.centre_px - (y - 0.5)) * grid.mm_per_px).toFixed(4))];
  const toUnits = ([x, y]) => ({ x: x / grid.mm_per_px + grid.centre_px + 0.5, y: grid.centre_px - y / grid.mm_per_px + 0.5 });
  /** Or nearly: what reaches into the view from beside it. */
  function inView({ x_mm, y_mm }) {
    const { x, y } = toUnits([x_mm, y_mm]), margin = 0.1 * view.size;
    return Math.max(view.x - x, view.y - y, x - view.x - view.size, y - view.y - view.size) <= margin;
  }
  const cornersInMm = () => drawing.corners.map(toMm);
  const pathOf = (outline) => outline.map(toUnits).map((p, i) => `${i ? "L" : "M"}${p.x.toFixed(2)} ${p.y.toFixed(2)}`).join("") + "Z";

  function showDrawing() {
    const points = drawing ? drawing.corners.concat(drawing.stroke) : [];
    const list = points.concat(points.slice(0, 1)).map((p) => `${p.x},${p.y}`).join(" ");
    byId("drawing").replaceChildren(...(points.length ? [svgNode("polyline", { points: list })] : []));
  }
  function startDrawing(changed) {
    drawing = { corners: [], stroke: [], changed };
    svg.classList.add("drawing");
    events.hover(null);
    showDrawing();
    showView();
  }
  function setCorners(outline) {
    if (!drawing) return;
    drawing.corners = outline.map(toUnits);
    showDrawing();
  }
  function stopDrawing() {
    drawing = null;
    svg.classList.remove("drawing");
    byId("drawing").replaceChildren();
  }

  // --- keys

  const STEPS = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };
  svg.addEventListener("keydown", (event) => {
    const id = spotAt(event.target);
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "+" || event.key === "=") zoomBy(1.6);
    else if (event.key === "-") zoomBy(1 / 1.6);
    else if (event.key === "0") { view = { x: 0, y: 0, size: whole }; showView(); }
    else if (id !== null && (event.key === "Enter" || event.key === " ")) events.pick(id);
    else if (id !== null && event.key in STEPS) {
      const order = [...nodes.keys()].filter((k) => !nodes.get(k).classList.contains("gone"));
      const next = order[(order.indexOf(id) + STEPS[event.key] + order.length) % order.length];
      nodes.get(next).focus({ preventScroll: true });
      reveal(next);
    } else return;
    event.preventDefault();
  });

  // --- all spots at once

  let dimmed = new Set(), gone = new Set();
  function dim(ids) {
    for (const id of dimmed) nodes.get(id)?.classList.remove("dim");
    for (const id of ids) nodes.get(id)?.classList.add("dim");
    dimmed = ids;
    showCasings();
  }

  /** Dark lines under the outlines, in a few paths: one each would double the page. Once a frame, however much changed. */
  function showCasings() {
    casings ??= requestAnimationFrame(() => {
      casings = null;
      drawCasings();
    });
  }
  function drawCasings() {
    // By the style sheet's own rules: its verdict on each node would make the browser work out all of them first.
    const unseen = [...byId("layers").querySelectorAll("[data-layer]")]
      .filter((box) => !box.checked || alone.checked).map((box) => box.dataset.layer);
    const shown = [];
    for (const [id, node] of nodes)
      if (!dimmed.has(id) && !gone.has(id) && !unseen.some((name) => node.classList.contains(name))) shown.push(node);
    for (const casing of svg.querySelectorAll("[data-under]")) {
      const lines = casing.dataset.under ? shown.flatMap((node) => [...node.querySelectorAll(casing.dataset.under)]) : shown;
      casing.replaceChildren(...byField(lines.map((line) => line.getAttribute("d"))).map((d) => svgNode("path", { d })));
    }
  }
  /** Outlines put together with their neighbours: the browser paints in tiles, and each tile goes through every path that touches it. */
  function byField(outlines) {
    const FIELDS = 8, fields = new Map();  // along a side
    const place = (text) => Math.floor(Number.parseFloat(text) / whole * FIELDS);
    for (const d of outlines) {  // "M12.5 34..."
      const field = place(d.slice(1)) + FIELDS * place(d.slice(d.search(/[ -]/)));
      fields.set(field, (fields.get(field) ?? "") + d);
    }
    return [...fields.values()];
  }

  // --- spots after corrections

  const drawn = new Set();
  function drawnNode(spot) {
    const node = svgNode("path", {
      class: "spot by-hand", id: `spot-${spot.spot_id}`, "data-spot": spot.spot_id, tabindex: 0, role: "button",
      "aria-pressed": "false", d: pathOf(spot.outline_mm),
    });
    byId("spots-drawn").append(node);
    const right = toUnits(spot.outline_mm.reduce((a, b) => (b[0] > a[0] ? b : a)));
    addNumber(spot.spot_id, right.x, right.y);
    nodes.set(spot.spot_id, node);
    drawn.add(spot.spot_id);
  }

  let asFound = true, struck = new Set();  // `asFound`: as the file has them
  function showStates(result) {
    const counted = new Set(result.spots.map((spot) => spot.spot_id));
    struck = result.struck;
    gone = new Set([...nodes.keys()].filter((id) => !struck.has(id) && !counted.has(id)));
    for (const [id, node] of nodes) {
      node.classList.toggle("struck", struck.has(id));
      node.classList.toggle("gone", gone.has(id));
      const words = events.words(id);
      if (words !== node.getAttribute("aria-label")) node.setAttribute("aria-label", words);
      if (numbers.has(id)) numbers.get(id).style.visibility = uncounted(id) ? "hidden" : "";
    }
  }
  const uncounted = (id) => struck.has(id) || gone.has(id);

  function showSpots(result, edits, dimmed) {
    for (const id of drawn) {
      nodes.get(id).remove();
      numbers.get(id).remove();
      nodes.delete(id);
      numbers.delete(id);
    }
    drawn.clear();
    for (const spot of result.spots) if (spot.origin === "drawn") drawnNode(spot);
    if (!asFound || edits.length > 0) showStates(result);
    asFound = edits.length === 0;
    nodes.get(picked)?.classList.add("picked");
    byId("hand-excluded").replaceChildren(...edits.filter((edit) => edit.edit === "exclude")
      .map((edit) => svgNode("path", { class: "hand-area", d: pathOf(edit.outline_mm) })));
    dim(dimmed);
    showView();
  }

  new ResizeObserver(([{ contentRect }]) => {
    side = Math.min(contentRect.width, contentRect.height || contentRect.width) || null;
    showView();
  }).observe(svg);
  letters.style.setProperty("--print-letter", `${whole / 62}px`);  // 2.4 mm on a picture of 150 mm
  window.addEventListener("beforeprint", () => { view = { x: 0, y: 0, size: whole }; showView(); });
  showLayers();
  return { setHot, setPicked, dim, showSpots, startDrawing, setCorners, stopDrawing, focus: (id) => nodes.get(id)?.focus() };
}
