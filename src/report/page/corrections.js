"use strict";
// A person's corrections: made in the picture, listed with reason and initials, saved as edits.json.

function makeCorrections(island, events) {
  const { html, byId, fixed } = Elements;
  const NAMES = { strike: "Struck", restore: "Restored", add: "Added", exclude: "Left out" };
  const SURE = /** what the form says */ {
    strike: (id) => `Strike spot ${id}`, restore: (id) => `Restore spot ${id}`,
    add: () => "Add the drawn spot", exclude: () => "Leave the drawn area out",
  };
  const form = byId("edit-form"), fault = byId("edit-fault"), corners = byId("edit-corners");
  let edits = island.edits.slice(), pending = null, saved = JSON.stringify(edits), initials = "";

  function parsedCorners() {
    return corners.value.split("\n").map((line) => line.trim()).filter(Boolean)
      .map((line) => line.split(/[\s,;]+/).map(Number));
  }

  function openForm(kind, spot) {
    cancel();
    pending = { kind, spot };
    events.prepare();  // while the reason is being typed
    const drawn = kind === "add" || kind === "exclude";
    byId("edit-form-title").textContent = SURE[kind](spot?.spot_id);
    byId("corner-field").hidden = !drawn;
    corners.value = "";
    byId("edit-reason").value = "";
    byId("edit-initials").value = initials;
    fault.textContent = "";
    form.hidden = false;
    byId("draw-help").hidden = !drawn;
    byId("draw-help").textContent = "Click the corners in the picture, or draw round it in one stroke; or type them below.";
    if (drawn) {
      events.startDrawing((outline) => { corners.value = outline.map(([x, y]) => `${x}, ${y}`).join("\n"); });
      byId("stage").scrollIntoView({ block: "nearest" });
    } else byId("edit-reason").focus();
  }

  function cancel() {
    pending = null;
    form.hidden = true;
    byId("draw-help").hidden = true;
    events.stopDrawing();
  }

  function wanted() {
    const base = { edit: pending.kind };
    if (pending.spot) Object.assign(base, { spot_id: pending.spot.spot_id, x_mm: pending.spot.x_mm, y_mm: pending.spot.y_mm });
    else base.outline_mm = parsedCorners();
    return {
      ...base, reason: byId("edit-reason").value.trim(), initials: byId("edit-initials").value.trim(),
      at: new Date().toISOString().replace(/\.\d+Z$/, "Z"),
    };
  }

  function faultOf(edit) {
    if (edit.outline_mm && (edit.outline_mm.length < 3 || edit.outline_mm.some((c) => c.length !== 2 || !c.every(Number.isFinite))))
      return "Draw three corners or more, or type them as x, y in mm, one a line.";
    if (!edit.reason) return "Give a reason.";
    if (!edit.initials) return "Give your initials.";
    return "";
  }

  async function submit(event) {
    event.preventDefault();
    const edit = wanted();
    fault.textContent = faultOf(edit);
    if (fault.textContent) return;
    let result;
    try {
      result = await events.tried(edits.concat(edit));
    } catch (error) {
      fault.textContent = `This browser cannot do the sums (${error.message}); open the page in a newer one.`;
      return;
    }
    const wrong = result.outcomes[edits.length].fault || (result.figures.measured_area_mm2 > 0 ? "" : "nothing of the face is left to measure");
    if (wrong) {
      fault.textContent = `This cannot be done: ${wrong}.`;
      return;
    }
    initials = edit.initials;
    cancel();
    edits = edits.concat(edit);
    await changed();
  }

  function effect(outcome) {
    const pixel = island.grid.mm_per_px ** 2, ids = outcome.ids.join(", ");
    const area = `${fixed(outcome.area_px * pixel, 2)} mm²`;
    return { strike: `spot ${ids}, ${area}, is not counted`, restore: `spot ${ids}, ${area}, counts again`,
      add: `spot ${ids}, ${area}`, exclude: `${area} not measured${ids ? `; spots touched: ${ids}` : ""}` };
  }

  function list(result) {
    const rows = edits.map((edit, i) => {
      const back = html("button", { type: "button", "aria-label": `Take back correction ${i + 1}` }, "Take back");
      back.addEventListener("click", () => takeBack(i));
      return html("tr", {}, html("td", { class: "number" }, String(i + 1)), html("td", {}, NAMES[edit.edit]),
        html("td", {}, edit.reason), html("td", {}, edit.initials),
        html("td", {}, (edit.at || "").replace("T", " ").replace("Z", " UTC")),
        html("td", {}, effect(result.outcomes[i])[edit.edit]), html("td", { class: "screen-only" }, back));
    });
    byId("corrections-table").tBodies[0].replaceChildren(...rows);
    byId("corrections-scroll").hidden = edits.length === 0;
    byId("corrections-none").hidden = edits.length > 0;
    byId("save-edits").disabled = edits.length === 0 && saved === "[]";
  }

  function takeBack(index) {
    const gone = edits[index];
    // What hangs on a strike goes with it: its restore says nothing without it.
    edits = edits.filter((edit, i) => i < index || (i > index && !(gone.spot_id && edit.spot_id === gone.spot_id)));
    changed();
  }

  async function changed() {
    const result = await events.changed(edits);
    list(result);
  }

  function file() {
    return {
      format: "corefleck edits", version: 1, photo: island.photo, photo_sha256: island.photo_sha256,
      grid_mm_per_px: island.grid.mm_per_px, grid_size_px: island.grid.size_px, edits,
    };
  }

  function save() {
    const text = `${JSON.stringify(file(), null, 1)}\n`;
    const link = html("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: "edits.json" });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    saved = JSON.stringify(edits);
  }

  const isText = (value) => typeof value === "string" && value.trim() !== "";
  const isOutline = (value) => Array.isArray(value) && value.length > 2 &&
    value.every((c) => Array.isArray(c) && c.length === 2 && c.every(Number.isFinite));
  const isEdit = (edit) => edit && edit.edit in NAMES && isText(edit.reason) && isText(edit.initials) &&
    (edit.edit === "add" || edit.edit === "exclude" ? isOutline(edit.outline_mm) : Number.isInteger(edit.spot_id));

  async function open(chosen) {
    const say = (words) => { byId("open-fault").textContent = words; };
    say("");
    let content;
    try {
      content = JSON.parse(await chosen.text());
    } catch {
      return say(`${chosen.name} is not JSON.`);
    }
    if (content?.format !== "corefleck edits" || !Array.isArray(content.edits) || !content.edits.every(isEdit))
      return say(`${chosen.name} is no edits file.`);
    if (content.photo_sha256 !== island.photo_sha256) return say(`${chosen.name} was made for another photo.`);
    if (content.grid_size_px !== island.grid.size_px || Math.abs(content.grid_mm_per_px / island.grid.mm_per_px - 1) > 1e-6)
      return say(`${chosen.name} was made on another scale or grid: the photo was measured with other options.`);
    const result = await events.tried(content.edits);
    const wrong = result.outcomes.findIndex((outcome) => outcome.fault);
    if (wrong >= 0) return say(`${chosen.name}: correction ${wrong + 1}: ${result.outcomes[wrong].fault}.`);
    edits = content.edits;
    saved = JSON.stringify(edits);
    return changed();
  }

  byId("strike").addEventListener("click", () => openForm("strike", events.picked()));
  byId("restore").addEventListener("click", () => openForm("restore", events.picked()));
  byId("draw-add").addEventListener("click", () => openForm("add"));
  byId("draw-exclude").addEventListener("click", () => openForm("exclude"));
  byId("edit-cancel").addEventListener("click", cancel);
  byId("save-edits").addEventListener("click", save);
  byId("open-edits").addEventListener("change", (event) => { if (event.target.files[0]) open(event.target.files[0]); event.target.value = ""; });
  form.addEventListener("submit", submit);
  byId("corner-back").addEventListener("click", () => {
    corners.value = corners.value.trim().split("\n").slice(0, -1).join("\n");
    corners.dispatchEvent(new Event("input"));
  });
  form.addEventListener("keydown", (event) => { if (event.key === "Escape") cancel(); });
  corners.addEventListener("input", () => {
    const outline = parsedCorners();
    if (outline.every((c) => c.length === 2 && c.every(Number.isFinite))) events.setCorners(outline);
  });
  window.addEventListener("beforeunload", (event) => { if (JSON.stringify(edits) !== saved) event.preventDefault(); });

  return { start: changed, current: () => edits };
}
