import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";
import { Bench, opened, seriousFaults } from "./bench.mjs";

const ids = (page) => page.$$eval("#spot-table tbody tr[data-spot]", (rows) => rows.map((row) => Number(row.dataset.spot)));

/** A measured page with its spots over and over until there are `count` of them, none wide enough for a number: no sample photo has thousands. */
function manyTimes(html, count) {
  const island = JSON.parse(html.match(/id="island">(.*?)<\/script>/s)[1]), { rows, columns } = island.spots, found = rows.length;
  for (const row of rows) row[columns.indexOf("ecd_mm")] *= 0.1;
  const lines = html.match(/<path class="spot" id="spot-\d+".*\n/g), more = [];
  for (let id = found + 1; id <= count; ++id) {
    const of = (id - 1) % found;
    rows.push([id, ...rows[of].slice(1)]);
    island.spot_px.push(island.spot_px[of]);
    more.push(lines[of].replace(/ id="spot-\d+" data-spot="\d+"/, ` id="spot-${id}" data-spot="${id}"`));
  }
  const last = lines[found - 1];
  return html.replace(/(id="island">).*?(<\/script>)/s, (_, start, end) => start + JSON.stringify(island) + end).replace(last, () => last + more.join(""));
}

/** Counts what the page's scripts make, and how often they ask for what the browser has to lay out first. */
function countWork() {
  window.work = { made: 0, asked: 0 };
  const counted = (of, name, what, number = () => 1) => {
    const own = of[name];
    of[name] = function (...args) {
      const result = own.apply(this, args);
      window.work[what] += number(result, args);
      return result;
    };
  };
  counted(Document.prototype, "createElement", "made");
  counted(Document.prototype, "createElementNS", "made");
  counted(Node.prototype, "cloneNode", "made", (node, [deep]) => 1 + (deep && node.querySelectorAll ? node.querySelectorAll("*").length : 0));
  for (const [of, name] of [[Element, "getBoundingClientRect"], [SVGGraphicsElement, "getBBox"], [SVGGraphicsElement, "getScreenCTM"], [window, "getComputedStyle"]])
    counted(of.prototype ?? of, name, "asked");
  for (const [of, name] of [[HTMLElement, "offsetTop"], [HTMLElement, "offsetHeight"], [HTMLElement, "offsetWidth"], [Element, "clientHeight"], [Element, "clientWidth"], [Element, "scrollTop"]]) {
    const { get, ...rest } = Object.getOwnPropertyDescriptor(of.prototype, name);
    Object.defineProperty(of.prototype, name, { ...rest, get() { ++window.work.asked; return get.call(this); } });
  }
  window.addEventListener("load", () => {
    window.atLoad = { ...window.work, elements: document.querySelectorAll("*").length, style: document.getElementById("picture").getAttribute("style") };
  });
}

const cases = {
  async "the page shows the figures of summary.csv and every spot of spots.csv"(browser) {
    const bench = new Bench();
    const measured = bench.measure("out");
    const page = await opened(browser, measured.page);
    assert.equal((await page.textContent(".headline [data-figure=spot_count] .value")).trim(), measured.summary.spot_count);
    const fraction = Number(await page.textContent(".headline [data-figure=area_fraction_pct] .value"));
    assert.ok(Math.abs(fraction - Number(measured.summary.area_fraction_pct)) < 0.001);
    assert.equal(await page.locator("#picture .spot").count(), measured.spots.length);
    assert.equal((await ids(page)).length, measured.spots.length);
    assert.match(await page.textContent("#identity"), new RegExp(measured.summary.photo_sha256));
    assert.equal(await page.locator("#plots svg").count(), 5);
    assert.ok(await page.locator("#figures-table .live:visible").count() === 0, "no column of corrections without any");
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a spot pointed at or reached by keys shows its figures in picture and table at once"(browser) {
    const bench = new Bench();
    const measured = bench.measure("out");
    const page = await opened(browser, measured.page);
    await page.hover("#spot-3");
    assert.match(await page.textContent("#tip"), /^Spot 3: .* mm², ECD .* ΔL\*/);
    assert.ok(await page.locator("#spot-table tr.hot[data-spot='3']").count());
    await page.click("#spot-3");
    assert.ok(await page.locator("#spot-table tr.picked[data-spot='3']").count());
    const card = await page.textContent("#spot-card");
    assert.match(card, /Spot 3/);
    assert.ok(card.includes(Number(measured.spots[2].ecd_mm).toFixed(2)));
    await page.focus("#spot-1");
    assert.match(await page.textContent("#tip"), /^Spot 1/);
    await page.keyboard.press("Tab");
    assert.equal(await page.evaluate(() => document.activeElement.id), "spot-2");
    await page.keyboard.press("ArrowRight");
    assert.equal(await page.evaluate(() => document.activeElement.id), "spot-3");
    await page.keyboard.press("ArrowLeft");
    await page.keyboard.press("Enter");
    assert.equal(await page.getAttribute("#spot-2", "aria-pressed"), "true");
    await page.hover("#spot-table tr[data-spot='6'] td >> nth=2");
    assert.ok(await page.locator("#spot-6.hot").count(), "a row of the table lights its outline");
    await page.click("#spot-table tr[data-spot='6'] button");
    assert.ok(await page.locator("#spot-6.picked").count());
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "the table sorts by any column, both ways, and filters picture and table"(browser) {
    const bench = new Bench();
    const measured = bench.measure("out");
    const page = await opened(browser, measured.page);
    const byArea = (a, b) => Number(a.area_mm2) - Number(b.area_mm2);
    const expected = [...measured.spots].sort(byArea).map((spot) => Number(spot.spot_id));
    await page.click("#spot-table th[data-key=area_mm2] button");
    assert.deepEqual(await ids(page), expected);
    assert.equal(await page.getAttribute("#spot-table th[data-key=area_mm2]", "aria-sort"), "ascending");
    await page.click("#spot-table th[data-key=area_mm2] button");
    assert.deepEqual(await ids(page), expected.reverse());
    await page.fill("#filter-from", "2");
    const large = measured.spots.filter((spot) => Number(spot.ecd_mm) >= 2).length;
    assert.equal((await ids(page)).length, large);
    assert.equal(await page.locator("#picture .spot:not(.dim)").count(), large);
    assert.equal((await page.textContent("#filter-count")).trim(), `${large} of ${measured.spots.length} spots`);
    await page.click("#spot-filter button[type=reset]");
    await page.waitForFunction((n) => document.querySelectorAll("#spot-table tbody tr").length === n, measured.spots.length);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a table of many rows is filled while the page already answers, and whole in print"(browser) {
    const bench = new Bench();
    const page = await opened(browser, bench.measure("out").page);
    // Rows of our own making in the page's own table: no sample photo has so many spots.
    const seen = await page.evaluate(async () => {
      document.querySelector("main").insertAdjacentHTML("beforeend", `<section><form id="many-filter"></form>
        <div id="many-scroll"><table id="many-table"><thead></thead><tbody></tbody></table></div></section>`);
      const body = document.querySelector("#many-table tbody"), rows = () => [...body.rows].map((row) => Number(row.dataset.spot));
      const table = makeSortedTable({
        name: "many", columns: [{ key: "id", label: "No.", write: (item) => String(item.id) }, { key: "size", label: "Size", write: (item) => String(item.size) }],
        idOf: (item) => item.id, goTo: (item) => `Row ${item.id}`, passing: () => () => true, counted: (now, all) => `${now} of ${all}`, none: "none", noneLeft: "none",
      }, { hover() {}, pick() {}, filtered() {} });
      const items = Array.from({ length: 1000 }, (_, i) => ({ id: i + 1, size: (i * 7919) % 1000 }));
      const of = {};
      table.setRows(items);
      of.first = rows();
      while (body.rows.length < 1000) await new Promise((later) => setTimeout(later, 5));
      of.all = rows();
      document.querySelector("#many-table th[data-key=size] button").click();
      of.sorted = rows();
      table.setPicked(items.find((item) => item.size === 999).id);
      // The row itself comes with the others, or at once where the table is looked at.
      document.getElementById("many-scroll").scrollIntoView();
      while (!body.querySelector(".picked")) await new Promise((later) => setTimeout(later, 5));
      of.picked = { rows: rows(), marked: Number(body.querySelector(".picked").dataset.spot) };
      table.setRows(items);
      window.dispatchEvent(new Event("beforeprint"));
      of.printed = rows();
      return of;
    });
    const bySize = Array.from({ length: 1000 }, (_, i) => i + 1).sort((a, b) => ((a - 1) * 7919) % 1000 - ((b - 1) * 7919) % 1000);
    assert.ok(seen.first.length < 1000);
    assert.deepEqual(seen.all, Array.from({ length: 1000 }, (_, i) => i + 1));
    assert.deepEqual(seen.sorted, bySize.slice(0, seen.sorted.length));
    assert.deepEqual(seen.picked, { rows: bySize, marked: bySize[999] });
    assert.deepEqual(seen.printed, bySize);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "a page of thousands of spots opens without more work for each, and a click in it waits for no table"(browser) {
    const bench = new Bench(), measured = bench.measure("out"), html = readFileSync(measured.html, "utf8");
    const pages = [];
    for (const count of [1000, 2000]) {
      bench.write(`${count}.html`, manyTimes(html, count));
      const page = await opened(browser, pathToFileURL(bench.path(`${count}.html`)).href, { before: countWork });
      await page.waitForFunction(() => window.atLoad);
      assert.equal(await page.locator("#picture .spot").count(), count);
      pages.push(page);
    }
    const [few, many] = await Promise.all(pages.map((page) => page.evaluate(() => window.atLoad)));
    assert.ok(few.made > 200, "the scripts make something");
    // Bars of a plot or fields of dark lines may differ; an element a spot would be a thousand.
    assert.ok(many.made - few.made < 50, `the scripts make ${few.made} elements for 1000 spots, ${many.made} for 2000`);
    assert.ok(many.elements - few.elements < 1050, `${few.elements} elements for 1000 spots, ${many.elements} for 2000`);
    assert.deepEqual([few.asked, many.asked], [0, 0], "nothing asks for a size while the page opens");
    assert.equal(many.style, null, "a style of the whole picture would be worked out again for every spot in it");

    const page = pages[1];
    await page.waitForFunction(() => document.querySelectorAll("#spot-table tbody tr").length === 2000);
    await page.evaluate(() => {
      window.rowsAsked = 0;
      const { get, ...rest } = Object.getOwnPropertyDescriptor(HTMLElement.prototype, "offsetTop");
      Object.defineProperty(HTMLElement.prototype, "offsetTop", { ...rest, get() { ++window.rowsAsked; return get.call(this); } });
    });
    await page.click("#spot-1990");
    assert.match(await page.textContent("#spot-card"), /Spot 1990/);
    assert.ok(await page.locator("#spot-table tr.picked[data-spot='1990']").count());
    assert.equal(await page.evaluate(() => window.rowsAsked), 0, "a table out of sight is not laid out for a click in the picture");
    // Looked at closely, a small spot has its number too, and those out of the view wait for theirs.
    for (let i = 0; i < 8; ++i) await page.click("#zoom-in");
    await page.focus("#spot-1990");
    await page.keyboard.press("ArrowRight");
    assert.ok(await page.locator("#layer-numbers text[data-spot='1991']").isVisible());
    assert.ok(await page.locator("#layer-numbers text").count() < 1000);
    await page.click("#zoom-whole");
    assert.equal(await page.locator("#layer-numbers text:visible").count(), 0);
    await page.evaluate(() => document.getElementById("spot-scroll").scrollIntoView());
    await page.waitForFunction(() => {
      const row = document.querySelector("#spot-table .picked").getBoundingClientRect(), frame = document.getElementById("spot-scroll").getBoundingClientRect();
      return row.top >= frame.top && row.bottom <= frame.bottom + 1;
    });
    assert.deepEqual(pages.flatMap(({ trouble }) => trouble), []);
    bench.close();
  },

  async "layers, lightness, zoom and pan work, and the whole face comes back"(browser) {
    const bench = new Bench();
    const page = await opened(browser, bench.measure("out").page);
    const shown = (id) => page.evaluate((name) => getComputedStyle(document.getElementById(name)).display !== "none", id);
    for (const layer of ["outlines", "numbers", "pits", "glare", "excluded"]) {
      await page.uncheck(`[data-layer=${layer}]`);
      assert.equal(await shown(`layer-${layer}`), false, layer);
      await page.check(`[data-layer=${layer}]`);
      assert.equal(await shown(`layer-${layer}`), true, layer);
    }
    await page.check("#photo-alone");
    assert.equal(await shown("layer-outlines"), false);
    await page.uncheck("#photo-alone");
    await page.fill("#brightness", "1.5");
    assert.match(await page.evaluate(() => document.getElementById("photo").style.filter), /brightness\(1\.5\)/);
    await page.click("#lightness-reset");
    assert.equal(await page.evaluate(() => document.getElementById("photo").style.filter), "");
    const view = () => page.getAttribute("#picture", "viewBox");
    const whole = await view();
    await page.click("#zoom-in");
    await page.click("#zoom-in");
    const near = await view();
    assert.notEqual(near, whole);
    await page.evaluate(() => document.getElementById("picture").scrollIntoView({ block: "center" }));
    const box = await page.locator("#picture").boundingBox();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 - 80, box.y + box.height / 2 - 50, { steps: 4 });
    await page.mouse.up();
    assert.notEqual(await view(), near);
    assert.match(await page.textContent("#spot-card"), /No spot chosen/, "a drag chooses nothing");
    await page.click("#zoom-whole");
    assert.equal(await view(), whole);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "axe-core finds no serious fault, on a desk and on a phone, corrected or not"(browser) {
    const bench = new Bench("terrace-pool-core-4-lamp.jpg");
    const measured = bench.measure("out");
    const page = await opened(browser, measured.page);
    assert.deepEqual(await seriousFaults(page), []);
    await page.click("#spot-table tr[data-spot='1'] button");
    await page.click("#strike");
    assert.deepEqual(await seriousFaults(page), []);
    await page.fill("#edit-reason", "x");
    await page.fill("#edit-initials", "AB");
    await page.click("#edit-form button[type=submit]");
    await page.waitForSelector("#corrections-live:visible");
    assert.deepEqual(await seriousFaults(page), []);
    const phone = await opened(browser, measured.page, { viewport: { width: 390, height: 844 }, hasTouch: true });
    assert.deepEqual(await seriousFaults(phone), []);
    assert.ok(await phone.evaluate(() => document.documentElement.scrollWidth) <= 390, "nothing sticks out of a phone");
    bench.close();
  },

  async "a photo with a name of markup is harmless"(browser) {
    const bench = new Bench("terrace-pool-core-1-dry.jpg", "<script>window.harm=1<img src=x onerror=harm=1>.jpg");
    const page = await opened(browser, bench.measure("out").page);
    assert.equal(await page.evaluate(() => window.harm), undefined);
    assert.equal(await page.textContent("h1"), bench.photo);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },

  async "without scripts the picture and the figures can be read"(browser) {
    const bench = new Bench();
    const measured = bench.measure("out");
    const page = await opened(browser, measured.page, { javaScriptEnabled: false });
    assert.equal(await page.locator("#picture .spot").count(), measured.spots.length);
    assert.match(await page.textContent("#figures-table"), /Area fraction/);
    assert.ok(await page.getByText("Scripts are off").isVisible());
    bench.close();
  },

  async "a face without spots has a page without an error"(browser) {
    const bench = new Bench();
    const page = await opened(browser, bench.measure("out", "--min-spot-mm", "60").page);
    assert.match(await page.textContent("#plots"), /no spots/);
    assert.match(await page.textContent("#spot-table"), /no spots/);
    assert.deepEqual(page.trouble, []);
    bench.close();
  },
};
export default cases;
