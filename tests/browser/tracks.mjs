import assert from "node:assert/strict";
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { TrackBench, compareCells, opened, pdfFacts, pdfText, sameFigure, seriousFaults } from "./bench.mjs";

const cases = {
  async "tracked visits: the page shows growth.csv, summary.csv and every track of tracks.csv"(browser) {
    const bench = new TrackBench(), measured = bench.run();
    const page = await opened(browser, measured.page), growth = measured.growth[0];
    const u95 = await compareCells(page, "#core-1-figures-table", (column) => growth[column]);
    sameFigure(u95.rate_pct_per_year, growth.rate_u95_pct_per_year, "u95 of the rate");
    const visits = await page.$$eval(".visits tbody tr", (rows) => rows.map((row) => ({
      date: row.querySelector("th").textContent, href: row.querySelector("a").href,
      cells: Object.fromEntries([...row.querySelectorAll("[data-figure]")].map((cell) => [cell.dataset.figure, Number(cell.querySelector(".value").textContent)])),
    })));
    assert.equal(visits.length, 4);
    visits.forEach((visit, i) => {
      assert.equal(visit.cells.spot_count, Number(measured.summary[i].spot_count));
      assert.ok(Math.abs(visit.cells.area_fraction_pct - Number(measured.summary[i].area_fraction_pct)) < 0.005, visit.date);
      assert.ok(existsSync(fileURLToPath(visit.href)), visit.href);
    });
    assert.equal(await page.locator(".growth-plot .visit").count(), 4);
    const tracks = new Set(measured.tracks.map((row) => row.track_id));
    assert.equal(await page.locator("#track-table tbody tr").count(), tracks.size);
    assert.equal(await page.locator("#plots .track").count(), tracks.size);
    const identity = await page.textContent("#identity");
    for (const row of measured.summary) assert.ok(identity.includes(row.photo_sha256));
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "tracks sort and filter, and one chosen stands out in table and plot"(browser) {
    const bench = new TrackBench(), measured = bench.run();
    const page = await opened(browser, measured.page);
    const total = new Map();
    for (const row of measured.tracks.filter((one) => one.date === "2026-03-11"))
      total.set(row.track_id, (total.get(row.track_id) ?? 0) + Number(row.area_mm2));
    await page.click("#track-table th[data-key=last_area] button");
    await page.click("#track-table th[data-key=last_area] button");
    const [largest] = [...total].sort((a, b) => b[1] - a[1])[0];
    assert.equal(await page.textContent("#track-table tbody tr:first-child th"), largest);
    assert.match(await page.textContent("#track-table tbody tr:first-child td:nth-child(8)"), new RegExp(`^${String(total.get(largest)).slice(0, 3).replace(".", "\\.")}`));
    await page.click("#track-table tbody tr:first-child button");
    assert.ok(await page.locator(`#plots .track.picked[data-spot='${largest}']`).count());
    await page.hover("#track-table tbody tr:nth-child(2) td >> nth=1");
    assert.equal(await page.locator("#plots .track.hot").count(), 1);
    await page.fill("#filter-seen", "4");
    const dates = (id) => new Set(measured.tracks.filter((row) => row.track_id === id).map((row) => row.date)).size;
    const always = [...new Set(measured.tracks.map((row) => row.track_id))].filter((id) => dates(id) === 4).length;
    assert.equal(await page.locator("#track-table tbody tr").count(), always);
    assert.equal(await page.locator("#plots .track:not(.dim)").count(), always);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "axe-core finds no serious fault in the page of two cores, and nothing sticks out of a phone"(browser) {
    const bench = new TrackBench(["a1.jpg", "a2.jpg", "a3.jpg", "a4.jpg", "b1.jpg", "b2.jpg"]);
    const measured = bench.run(["A", "A", "A", "A", "B", "B"]);
    const page = await opened(browser, measured.page);
    assert.equal(await page.locator("#all-figures-table tbody tr").count(), 2);
    assert.equal(await page.locator(".series-key span").count(), 2);
    await page.selectOption("#filter-core", "B");
    assert.equal(await page.locator("#track-table tbody tr").count(), new Set(measured.tracks.filter((row) => row.core === "B").map((row) => row.track_id)).size);
    assert.deepEqual(await seriousFaults(page), []);
    const phone = await opened(browser, measured.page, { viewport: { width: 390, height: 844 }, hasTouch: true });
    assert.deepEqual(await seriousFaults(phone), []);
    assert.ok(await phone.evaluate(() => document.documentElement.scrollWidth) <= 390);
    assert.deepEqual(page.trouble.concat(phone.trouble), []);
    bench.close();
  },

  async "a core and photos with names of markup are harmless in the page of tracked visits, which prints whole"(browser) {
    const harm = "<script>window.harm=1<img src=x onerror=harm=1>";
    const bench = new TrackBench([`${harm}.jpg`, "visit, 2.jpg"]), measured = bench.run([harm, harm]);
    const page = await opened(browser, measured.page), file = bench.path("page.pdf");
    assert.equal(await page.evaluate(() => window.harm), undefined);
    assert.equal(await page.textContent("h1"), `Core ${harm} over dated visits`);
    await page.pdf({ path: file, format: "A4", printBackground: true });
    const facts = pdfFacts(file), text = pdfText(file);
    assert.ok(facts.pages >= 2 && facts.pages <= 8, `${facts.pages} pages`);
    for (const words of ["visit, 2.jpg", "respirable crystalline silica", "It does not say why", "Doubling time"])
      assert.ok(text.replace(/\s+/g, " ").includes(words), `"${words}" is missing`);
    for (const words of ["All tracks", "Skip to"]) assert.ok(!text.includes(words), `"${words}" is for the screen`);
    assert.ok(text.split("\f").filter((sheet) => sheet.trim()).length === facts.pages, "a page is empty");
    assert.deepEqual(page.trouble, []);
    bench.close();
  },
};
export default cases;
