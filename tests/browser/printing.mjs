import assert from "node:assert/strict";
import { Bench, opened, pdfFacts, pdfText } from "./bench.mjs";

const cases = {
  async "the page prints on A4 and on Letter, whole and without its controls"(browser) {
    const bench = new Bench();
    const measured = bench.measure("out");
    const page = await opened(browser, measured.page);
    await page.fill("#filter-from", "2");
    await page.click("#spot-filter button[type=reset]");
    // 1 point is 1/72 inch: A4 is 595 x 842, Letter 612 x 792.
    for (const [format, width, height] of [["A4", 595, 842], ["Letter", 612, 792]]) {
      const file = bench.path(`${format}.pdf`);
      await page.pdf({ path: file, format, printBackground: true });
      const facts = pdfFacts(file), text = pdfText(file);
      assert.ok(Math.abs(facts.width - width) < 1.5 && Math.abs(facts.height - height) < 1.5, `${format}: ${facts.width} x ${facts.height}`);
      assert.ok(facts.pages >= 4 && facts.pages <= 9, `${format}: ${facts.pages} pages`);
      for (const words of ["core.jpg", measured.summary.photo_sha256, "Area fraction", "respirable crystalline silica", "It does not say why"])
        assert.ok(text.replace(/\s+/g, " ").includes(words), `${format}: "${words}" is missing`);
      for (const id of ["1", String(measured.spots.length)])
        assert.match(text, new RegExp(`^\\s*${id}\\s+-?[\\d.]+`, "m"), `${format}: spot ${id} of the table`);
      for (const words of ["Save edits.json", "Strike this spot", "Brighter", "Skip to"])
        assert.ok(!text.includes(words), `${format}: "${words}" is for the screen`);
      assert.ok(text.split("\f").filter((sheet) => sheet.trim()).length === facts.pages, `${format}: a page is empty`);
    }
    assert.deepEqual(page.trouble, []);
    bench.close();
  },
};
export default cases;
