import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { Bench, drawCorners, give, liveFigures, opened, saveEdits } from "./bench.mjs";

/**
 * The page's figures against the program's: rounded to the digits that the page shows they are equal. The lightness of a drawn
 * or cut spot may be off by one unit of the last: the page has it in steps of up to 0.4 L* a pixel, 0.007 in the mean of 300.
 */
export function compareFigures(live, summary) {
  const blank = ["contrast_dE00"];  // the page says that it does not compute it
  const units = (column) => (["spot_L", "contrast_dL"].includes(column) ? 1.0 : 0.5);
  for (const [column, shown] of Object.entries(live)) {
    if (column === "core_diameter_u95_mm" || blank.includes(column)) continue;
    const cell = summary[column];
    if (shown.empty) {
      assert.equal(cell, "", `${column}: the page has none, the program ${cell}`);
      continue;
    }
    assert.ok(Math.abs(shown.value - Number(cell)) <= 1.0000002 * units(column) * 10 ** -shown.digits + 1e-12, `${column}: page ${shown.value}, program ${cell}`);
  }
  for (const [column, u95] of [["area_fraction_pct", "area_fraction_u95_pct"], ["contrast_dL", "contrast_dL_u95"]])
    if (summary[u95]) assert.ok(Math.abs(live[column].u95 - Number(summary[u95])) <= 0.5000001 * 10 ** -live[column].digits, `${u95}: page ${live[column].u95}, program ${summary[u95]}`);
}

async function pickInTable(page, id) {
  await page.click(`#spot-table tr[data-spot="${id}"] button`);
}

async function strike(page, id, reason = "a grain of sand", initials = "AB") {
  await pickInTable(page, id);
  await page.click("#strike");
  await give(page, reason, initials);
}

const cases = {
  async "a struck spot changes the figures at once, and the program comes to the same"(browser) {
    const bench = new Bench();
    const before = bench.measure("plain");
    const page = await opened(browser, before.page);
    await strike(page, 2);
    const live = await liveFigures(page);
    assert.equal(live.spot_count.value, before.spots.length - 1);
    assert.ok(await page.locator("#spot-2.struck").count(), "the outline says that it is struck");
    assert.match(await page.textContent("#corrections-table tbody"), /Struck.*a grain of sand.*AB/s);
    assert.match(await page.textContent("#corrections-live"), /With 1 correction/);
    await saveEdits(page, bench.path("edits.json"));
    const after = bench.measure("edited", "--edits", "edits.json");
    compareFigures(live, after.summary);
    assert.match(after.summary.cautions, /edited/);
    assert.deepEqual(after.record.figures_without_edits, before.record.figures);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "spots struck, added and cut, and an area left out: page and program agree"(browser) {
    const bench = new Bench();
    const before = bench.measure("plain");
    const page = await opened(browser, before.page);
    await strike(page, 4);
    await page.click("#draw-add");
    await drawCorners(page, [[-6, -4], [-3, -4.2], [-2.6, -6.3], [-4.4, -7.5], [-6.4, -6]]);
    await give(page, "faint, seen wet");
    await page.click("#draw-exclude");
    const { x_mm: x, y_mm: y } = before.spots[0];
    const [cx, cy] = [Number(x), Number(y)];
    await drawCorners(page, [[cx + 0.4, cy + 3], [cx + 6, cy + 3], [cx + 6, cy - 4], [cx + 0.2, cy - 4]]);
    await give(page, "pencil mark");
    const live = await liveFigures(page);
    await saveEdits(page, bench.path("edits.json"));
    const saved = JSON.parse(readFileSync(bench.path("edits.json"), "utf8"));
    assert.equal(saved.edits.length, 3);
    assert.ok(saved.edits.every((edit) => edit.reason && edit.initials === "AB"));
    const after = bench.measure("edited", "--edits", "edits.json");
    compareFigures(live, after.summary);
    // The spots' own figures too, the cut and the drawn one before all.
    const drawn = String(before.spots.length + 1);
    for (const id of ["1", drawn]) {
      const row = after.spots.find((spot) => spot.spot_id === id);
      const cells = await page.locator(`#spot-table tr[data-spot="${id}"] td`).allTextContents();
      const expected = [row.x_mm, row.y_mm, null, row.area_mm2, row.ecd_mm, row.feret_max_mm, row.feret_min_mm, row.form_factor, row.solidity, row.mean_L, row.contrast_dL, row.contrast_weber];
      expected.forEach((cell, i) => {
        if (cell === null) return;
        const words = cells[i].split(" ")[0], digits = (words.split(".")[1] || "").length;
        const slack = (i >= 9 ? 1.1 : 0.5000001) * 10 ** -digits;  // lightness comes from 8 bits a pixel
        assert.ok(Math.abs(Number(words) - Number(cell)) <= slack, `spot ${id}, column ${i}: page ${words}, program ${cell}`);
      });
    }
    assert.equal(after.record.edits.length, 3);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a report measured with edits lists them and says the figures without"(browser) {
    const bench = new Bench();
    const before = bench.measure("plain");
    const first = await opened(browser, before.page);
    await strike(first, 1, "a shell", "RK");
    await saveEdits(first, bench.path("edits.json"));
    const after = bench.measure("edited", "--edits", "edits.json");
    const page = await opened(browser, after.page);
    assert.match(await page.textContent(".status"), /Edited by hand/);
    assert.match(await page.textContent("#corrections-table tbody"), /Struck.*a shell.*RK/s);
    const header = await page.locator("#figures-table thead th:visible").allTextContents();
    assert.deepEqual(header, ["Figure", "With the corrections", "Without corrections"]);
    const row = await page.locator("#figures-table tr", { hasText: "Spots" }).first().locator("td:visible").allTextContents();
    assert.deepEqual(row, [String(before.spots.length - 1), String(before.spots.length)]);
    // Restored there, with a reason, the figures are those without edits again, and the file says both edits.
    await pickInTable(page, 1);
    await page.click("#restore");
    await give(page, "seen wet: it is a spot", "RK");
    await saveEdits(page, bench.path("again.json"));
    const again = bench.measure("again", "--edits", "again.json");
    assert.equal(again.record.edits.length, 2);
    assert.deepEqual(again.record.figures, before.record.figures);
    compareFigures(await liveFigures(page), before.summary);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a correction wants a reason and initials, and an impossible one is refused"(browser) {
    const bench = new Bench();
    const page = await opened(browser, bench.measure("plain").page);
    const fault = () => page.textContent("#edit-fault");
    await pickInTable(page, 3);
    await page.click("#strike");
    await page.click("#edit-form button[type=submit]");
    assert.match(await fault(), /reason/);
    await page.fill("#edit-reason", "sand");
    await page.click("#edit-form button[type=submit]");
    assert.match(await fault(), /initials/);
    await page.click("#edit-cancel");
    await page.click("#draw-add");
    await page.fill("#edit-corners", "0, 0\n0.1, 0\n0.1, 0.1");
    await page.fill("#edit-reason", "x");
    await page.fill("#edit-initials", "AB");
    await page.click("#edit-form button[type=submit]");
    await page.waitForFunction(() => /smaller|nothing/.test(document.getElementById("edit-fault").textContent));
    await page.fill("#edit-corners", "0, 0\n5");
    await page.click("#edit-form button[type=submit]");
    assert.match(await fault(), /three corners/);
    assert.equal(await page.locator("#corrections-table tbody tr").count(), 0);
    assert.ok(await page.isDisabled("#save-edits"));
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a correction can be taken back, and a saved file opened again"(browser) {
    const bench = new Bench();
    const before = bench.measure("plain");
    const page = await opened(browser, before.page);
    await strike(page, 2);
    await strike(page, 5);
    await saveEdits(page, bench.path("edits.json"));
    const both = await liveFigures(page);
    await page.click("[aria-label='Take back correction 1']");
    await page.waitForFunction(() => document.querySelectorAll("#corrections-table tbody tr").length === 1);
    assert.equal((await liveFigures(page)).spot_count.value, before.spots.length - 1);
    await page.setInputFiles("#open-edits", bench.path("edits.json"));
    await page.waitForFunction(() => document.querySelectorAll("#corrections-table tbody tr").length === 2);
    assert.deepEqual(await liveFigures(page), both);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "edits of another photo are refused by the page and by the program"(browser) {
    const bench = new Bench(), other = new Bench("terrace-pool-core-2-dry.jpg");
    const page = await opened(browser, bench.measure("plain").page);
    await strike(page, 2);
    await saveEdits(page, other.path("edits.json"));
    const elsewhere = await opened(browser, other.measure("plain").page);
    await elsewhere.setInputFiles("#open-edits", other.path("edits.json"));
    await elsewhere.waitForFunction(() => document.getElementById("open-fault").textContent !== "");
    assert.match(await elsewhere.textContent("#open-fault"), /another photo/);
    const run = other.failure("edited", "--edits", "edits.json");
    assert.equal(run.status, 2);
    assert.match(run.stderr, /another photo/);
    bench.close();
    other.close();
  },

  async "spots at the rim and an area over several spots: page and program agree"(browser) {
    const bench = new Bench("terrace-pool-core-4-lamp.jpg");
    const before = bench.measure("plain");
    const atRim = before.spots.filter((spot) => spot.touches_rim === "true");
    assert.ok(atRim.length > 1, "the photo shows spots at the rim");
    const page = await opened(browser, before.page);
    await strike(page, Number(atRim[0].spot_id));
    await page.click("#draw-exclude");
    await drawCorners(page, [[5, 10], [20, 12], [18, 0], [6, -2]]);
    await give(page, "pencil mark");
    const live = await liveFigures(page);
    await saveEdits(page, bench.path("edits.json"));
    const after = bench.measure("edited", "--edits", "edits.json");
    compareFigures(live, after.summary);
    assert.ok(after.record.edits[1].spot_ids.length > 1, "the area cuts several spots");
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a photo without a grey card is corrected the same way"(browser) {
    const bench = new Bench("no-card.jpg");
    const before = bench.measure("plain", "--no-card");
    const page = await opened(browser, before.page);
    await strike(page, 1);
    await page.click("#draw-add");
    await drawCorners(page, [[-3, 2], [1, 2], [1, -2], [-3, -2]]);
    await give(page, "faint");
    const live = await liveFigures(page);
    assert.ok(live.contrast_dL.empty && !live.contrast_weber.empty);
    await saveEdits(page, bench.path("edits.json"));
    compareFigures(live, bench.measure("edited", "--no-card", "--edits", "edits.json").summary);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },
};
export default cases;
