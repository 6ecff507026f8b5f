import assert from "node:assert/strict";
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { PairBench, compareCells, opened, pdfFacts, pdfText, sameFigure, seriousFaults } from "./bench.mjs";

const rowsShown = (page) => page.$$eval("#spot-table tbody tr[data-spot]", (rows) => rows.map((row) => Number(row.dataset.spot)));
const pressed = (page) => page.$$eval(".curtain button[aria-pressed=true]", (buttons) => buttons.map((button) => button.id));

const cases = {
  async "two photos' page shows the figures of comparison.csv and summary.csv, and every row of changes.csv"(browser) {
    const bench = new PairBench(), measured = bench.run();
    const page = await opened(browser, measured.page);
    const u95 = await compareCells(page, "#pair-figures-table", (column) => measured.figures[column]);
    sameFigure(u95.area_fraction_change_pct, measured.figures.area_fraction_change_u95_pct, "u95 of area_fraction_change_pct");
    await compareCells(page, "#whole-faces-table", (column) => {
      const [photo, name] = column.split(".");
      return measured.summary[photo === "before" ? 0 : 1][name];
    });
    for (const kind of ["new", "grown", "steady", "shrunk", "gone", "merged", "split", "unclear", "unmeasured"])
      assert.equal(await page.textContent(`#kinds-table [data-kind=${kind}]`), measured.figures[kind], kind);
    assert.equal(await page.locator("#picture .spot").count(), measured.rows.length);
    assert.equal((await rowsShown(page)).length, measured.rows.length);
    const cells = await page.$$eval("#spot-table tbody tr", (rows) => rows.map((row) => [...row.children].map((cell) => cell.textContent)));
    measured.rows.forEach((row, i) => {
      assert.ok(cells[i][1].endsWith(row.change === "unmeasured" ? "not compared" : row.change), `row ${i + 1}: ${cells[i][1]}`);
      assert.deepEqual([cells[i][2], cells[i][3]], [row.before_ids, row.after_ids]);
    });
    assert.equal(await page.locator("#plots svg").count(), 2);
    const marks = await page.$$eval("#plots figure:first-child [data-spot]", (nodes) => nodes.length);
    assert.equal(marks, measured.rows.length, "the plot has a mark a row");
    const identity = await page.textContent("#identity");
    for (const row of measured.summary) assert.ok(identity.includes(row.photo_sha256));
    assert.match(await page.textContent("#registration"), new RegExp(`${Number(measured.figures.rotation_deg).toFixed(2)}°`));
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "dry and wet: contrast in both states, of face and spots, as in the files"(browser) {
    const bench = new PairBench("wetdry", ["dry.jpg", "wet.jpg"]), measured = bench.run();
    const page = await opened(browser, measured.page);
    const u95 = await compareCells(page, "#pair-figures-table", (column) => measured.figures[column]);
    sameFigure(u95.contrast_gain_dL, measured.figures.contrast_gain_u95, "u95 of contrast_gain_dL");
    sameFigure(u95.matrix_darkening_dL, measured.figures.matrix_darkening_u95, "u95 of matrix_darkening_dL");
    sameFigure(u95.contrast_dL_dry, measured.summary[0].contrast_dL_u95, "u95 of contrast_dL_dry");
    assert.equal(await page.locator("#picture .spot").count(), measured.rows.length);
    const both = measured.rows.filter((row) => row.seen === "both").length;
    assert.equal(await page.textContent("#kinds-table [data-kind=both]"), String(both));
    assert.equal(await page.locator("#plots figure:first-child [data-spot]").count(), measured.rows.length);
    // Wet plaster is darker, and both pictures are at one exposure: so must the picture be.
    const levels = await page.evaluate(async () => {
      const level = async (id) => {
        const image = new Image();
        image.src = document.getElementById(id).getAttribute("href");
        await image.decode();
        const canvas = document.createElement("canvas");
        canvas.width = canvas.height = 64;
        const context = canvas.getContext("2d");
        context.drawImage(image, 0, 0, 64, 64);
        const pixels = context.getImageData(24, 24, 16, 16).data;
        return pixels.reduce((sum, value, i) => sum + (i % 4 === 1 ? value : 0), 0) / 256;
      };
      return [await level("image-first"), await level("image-second")];
    });
    assert.ok(levels[1] < levels[0] - 10, `dry ${levels[0]}, wet ${levels[1]}`);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "the line between two photos moves by keys, by its handle and by buttons"(browser) {
    const bench = new PairBench(), page = await opened(browser, bench.run().page);
    const edge = () => page.evaluate(() => Number(document.getElementById("curtain-part").getAttribute("x")) / document.getElementById("picture").viewBox.baseVal.width);
    const near = (share) => edge().then((x) => assert.ok(Math.abs(x - share) < 0.02, `line at ${x}, not ${share}`));
    await near(0.5);
    await page.focus("#curtain");
    for (let i = 0; i < 10; ++i) await page.keyboard.press("ArrowRight");
    await near(0.6);
    await page.click("#show-first");
    await near(1);
    assert.deepEqual(await pressed(page), ["show-first"]);
    await page.click("#show-second");
    await near(0);
    await page.click("#show-both");
    await near(0.6);
    await page.evaluate(() => document.getElementById("stage").scrollIntoView({ block: "end" }));
    const grip = await page.locator("#curtain-grip").boundingBox(), stage = await page.locator("#stage").boundingBox();
    await page.mouse.move(grip.x + grip.width / 2, grip.y + grip.height / 2);
    await page.mouse.down();
    await page.mouse.move(stage.x + stage.width * 0.3, grip.y + grip.height / 2, { steps: 5 });
    await page.mouse.up();
    assert.equal(await page.inputValue("#curtain"), "30");
    assert.equal(await page.getAttribute("#picture", "viewBox"), await page.evaluate(() => `0 0 ${document.getElementById("image-first").getAttribute("width")} ${document.getElementById("image-first").getAttribute("height")}`), "the handle does not pan");
    // Zoomed in, the line stays where the slider has it.
    await page.click("#zoom-in");
    const share = await page.evaluate(() => {
      const svg = document.getElementById("picture"), frame = document.getElementById("stage").getBoundingClientRect();
      const x = Number(document.getElementById("curtain-part").getAttribute("x"));
      return (new DOMPoint(x, 0).matrixTransform(svg.getScreenCTM()).x - frame.left) / frame.width;
    });
    assert.ok(Math.abs(share - 0.3) < 0.01, `${share}`);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "blinking is off at first, goes by mouse and keys, can be paused, and is none for whoever wants no motion"(browser) {
    const bench = new PairBench(), measured = bench.run();
    const page = await opened(browser, measured.page, { reducedMotion: "no-preference" });
    assert.equal(await page.getAttribute("#blink", "aria-pressed"), "false");
    await page.waitForTimeout(1200);
    assert.deepEqual(await pressed(page), ["show-both"], "nothing moves by itself");
    await page.selectOption("#blink-every", "500");
    await page.focus("#blink");
    await page.keyboard.press("Enter");
    assert.equal(await page.textContent("#blink"), "Stop blinking");
    for (const which of ["show-second", "show-first", "show-second"])
      await page.waitForFunction((id) => document.getElementById(id).getAttribute("aria-pressed") === "true", which, { timeout: 3000 });
    await page.keyboard.press("Escape");
    const stopped = await pressed(page);
    await page.waitForTimeout(1200);
    assert.deepEqual(await pressed(page), stopped, "paused");
    await page.focus("#spot-1");
    await page.keyboard.press("b");
    assert.equal(await page.getAttribute("#blink", "aria-pressed"), "true");
    await page.click("#show-both");
    assert.equal(await page.getAttribute("#blink", "aria-pressed"), "false", "whoever chooses a photo keeps it");

    const still = await opened(browser, measured.page, { reducedMotion: "reduce" });
    assert.equal(await still.textContent("#blink"), "Swap the photos");
    await still.click("#blink");
    const shown = await pressed(still);
    await still.waitForTimeout(1500);
    assert.deepEqual(await pressed(still), shown, "one press, one change");
    await still.click("#blink");
    assert.notDeepEqual(await pressed(still), shown);
    assert.deepEqual(page.trouble.concat(still.trouble), []);
    bench.close();
  },

  async "a pair's spot pointed at, reached by keys or clicked shows its figures everywhere at once"(browser) {
    const bench = new PairBench(), measured = bench.run();
    const page = await opened(browser, measured.page);
    const grown = measured.rows.findIndex((row) => row.change === "grown") + 1;
    await page.focus(`#spot-${grown}`);
    assert.match(await page.textContent("#tip"), new RegExp(`^Row ${grown}, grown: before .* mm², after .* mm², change \\+`));
    assert.ok(await page.locator(`#spot-table tr.hot[data-spot='${grown}']`).count());
    assert.ok(await page.locator(`#plots .hot[data-spot='${grown}']`).count() > 0);
    await page.keyboard.press("Enter");
    assert.ok(await page.locator(`#spot-table tr.picked[data-spot='${grown}']`).count());
    assert.match(await page.textContent("#spot-card"), new RegExp(`Row ${grown}: ▲ grown`));
    await page.keyboard.press("Tab");
    assert.equal(await page.evaluate(() => document.activeElement.id), `spot-${grown + 1}`);
    await page.click(`#spot-table tr[data-spot='1'] button`);
    assert.ok(await page.locator("#spot-1.picked").count());
    await page.hover("#spot-table tr[data-spot='3'] td >> nth=2");
    assert.ok(await page.locator("#spot-3.hot").count());
    await page.locator("#plots figure:first-child [data-spot='2']").click({ force: true });
    assert.ok(await page.locator("#spot-2.picked").count());
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a pair's table sorts and filters, its layers and classes come and go"(browser) {
    const bench = new PairBench(), measured = bench.run();
    const page = await opened(browser, measured.page);
    const change = (row) => Number(row.area_change_mm2);
    const expected = measured.rows.map((row, i) => ({ ...row, id: i + 1 })).filter((row) => row.area_change_mm2 !== "")
      .sort((a, b) => change(a) - change(b)).map((row) => row.id);
    await page.click("#spot-table th[data-key=area_change_mm2] button");
    assert.deepEqual((await rowsShown(page)).slice(0, expected.length), expected);
    await page.click("#spot-table th[data-key=area_change_mm2] button");
    assert.deepEqual((await rowsShown(page)).slice(0, expected.length), expected.reverse(), "not measured: last either way");
    await page.selectOption("#filter-kind", "grown");
    const grown = measured.rows.filter((row) => row.change === "grown").length;
    assert.equal((await rowsShown(page)).length, grown);
    assert.equal(await page.locator("#picture .spot:not(.dim)").count(), grown);
    await page.click("#spot-filter button[type=reset]");
    await page.waitForFunction((n) => document.querySelectorAll("#spot-table tbody tr").length === n, measured.rows.length);
    const shown = (selector) => page.evaluate((name) => getComputedStyle(document.querySelector(name)).display !== "none", selector);
    for (const [layer, selector] of [["first", "#picture .kind-gone .first"], ["second", "#picture .kind-new .second"], ["numbers", "#layer-numbers"],
      ["excluded", "#layer-excluded"], ["kind-grown", "#picture g.kind-grown"]]) {
      await page.uncheck(`[data-layer=${layer}]`);
      assert.equal(await shown(selector), false, layer);
      await page.check(`[data-layer=${layer}]`);
      assert.equal(await shown(selector), true, layer);
    }
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "axe-core finds no serious fault in a pair's page, and nothing sticks out of a phone"(browser) {
    for (const [command, names] of [["compare", ["before.jpg", "after.jpg"]], ["wetdry", ["dry.jpg", "wet.jpg"]]]) {
      const bench = new PairBench(command, names), measured = bench.run();
      const page = await opened(browser, measured.page);
      await page.click("#spot-table tr[data-spot='1'] button");
      assert.deepEqual(await seriousFaults(page), [], command);
      const phone = await opened(browser, measured.page, { viewport: { width: 390, height: 844 }, hasTouch: true });
      assert.deepEqual(await seriousFaults(phone), [], `${command} on a phone`);
      assert.ok(await phone.evaluate(() => document.documentElement.scrollWidth) <= 390, command);
      assert.deepEqual(page.trouble.concat(phone.trouble), []);
      bench.close();
    }
  },

  async "photos with names of markup are harmless in a pair's page, and its links lead to each photo's own"(browser) {
    const bench = new PairBench("compare", ["<script>window.harm=1<img src=x onerror=harm=1>.jpg", "a: #b?%41.jpg"]);
    const page = await opened(browser, bench.run().page);
    assert.equal(await page.evaluate(() => window.harm), undefined);
    assert.equal(await page.textContent("h1"), bench.photos.join(" → "));
    const links = await page.$$eval("#identity a", (nodes) => nodes.map((node) => node.href));
    assert.equal(links.length, 2);
    for (const link of links) assert.ok(existsSync(fileURLToPath(link)), link);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a pair's page prints on A4, whole and without its controls, and can be read without scripts"(browser) {
    const bench = new PairBench(), measured = bench.run();
    const page = await opened(browser, measured.page), file = bench.path("page.pdf");
    await page.pdf({ path: file, format: "A4", printBackground: true });
    const facts = pdfFacts(file), text = pdfText(file);
    assert.ok(Math.abs(facts.width - 595) < 1.5 && Math.abs(facts.height - 842) < 1.5);
    assert.ok(facts.pages >= 4 && facts.pages <= 10, `${facts.pages} pages`);
    for (const words of ["before.jpg", "after.jpg", measured.summary[1].photo_sha256, "respirable crystalline silica", "It does not say why"])
      assert.ok(text.replace(/\s+/g, " ").includes(words), `"${words}" is missing`);
    assert.match(text, new RegExp(`^\\s*${measured.rows.length}\\s+(– )?not compared`, "m"), "the table's last row");
    for (const words of ["Blink", "Brighter", "Skip to", "All rows"]) assert.ok(!text.includes(words), `"${words}" is for the screen`);
    assert.ok(text.split("\f").filter((sheet) => sheet.trim()).length === facts.pages, "a page is empty");
    const plain = await opened(browser, measured.page, { javaScriptEnabled: false });
    assert.ok(await plain.getByText("Scripts are off").isVisible());
    assert.equal(await plain.locator(".stills svg:visible").count(), 2);
    assert.match(await plain.textContent("#pair-figures-table"), /Area fraction/);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },
};
export default cases;
