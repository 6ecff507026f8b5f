// What every case stands on: a measured photo in a folder of its own, and a page that reports what goes wrong in it.
import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import { copyFileSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const root = join(dirname(fileURLToPath(import.meta.url)), "..", "..");
export const program = process.env.COREFLECK_PROGRAM;

export function chromiumPath() {
  return ["/usr/bin/chromium", "/usr/bin/chromium-browser"].find((path) => existsSync(path));
}

/** Rows of an RFC 4180 table as objects; the tables read here have no line breaks in cells. */
export function csvRows(file) {
  const lines = readFileSync(file, "utf8").split("\r\n").filter(Boolean);
  const cells = (line) => [...line.matchAll(/("(?:[^"]|"")*"|[^,]*)(?:,|$)/g)].map((m) => m[1])
    .map((cell) => (cell.startsWith('"') ? cell.slice(1, -1).replaceAll('""', '"') : cell));
  const names = cells(lines[0]);
  return lines.slice(1).map((line) => Object.fromEntries(cells(line).slice(0, names.length).map((cell, i) => [names[i], cell])));
}

/** A folder with a copy of a sample photo under any name; measured on demand. */
export class Bench {
  constructor(sample = "terrace-pool-core-1-dry.jpg", name = "core.jpg") {
    this.folder = mkdtempSync(join(tmpdir(), "corefleck-page-"));
    this.photo = name;
    copyFileSync(join(root, "sample_images", sample), join(this.folder, name));
  }
  measure(out, ...more) {
    execFileSync(program, ["measure", `./${this.photo}`, "--out", out, "--quiet", ...more], { cwd: this.folder });
    const face = join(this.folder, out, this.photo.replace(/\.[^.]+$/, ""));
    return {
      page: pathToFileURL(join(face, "report.html")).href,
      summary: csvRows(join(this.folder, out, "summary.csv"))[0],
      spots: csvRows(join(face, "spots.csv")),
      record: JSON.parse(readFileSync(join(face, "record.json"), "utf8")),
      html: join(face, "report.html"),
    };
  }
  failure(out, ...more) {
    return spawnSync(program, ["measure", `./${this.photo}`, "--out", out, ...more], { cwd: this.folder, encoding: "utf8" });
  }
  write(name, text) { writeFileSync(join(this.folder, name), text); }
  path(name) { return join(this.folder, name); }
  close() { rmSync(this.folder, { recursive: true, force: true }); }
}

/** Two sample photos of one core in a folder, compared or held against each other wet and dry. */
export class PairBench {
  constructor(command = "compare", names = ["before.jpg", "after.jpg"]) {
    const core = command === "compare" ? ["terrace-pool-core-5-before.jpg", "terrace-pool-core-5-after.jpg"]
      : ["terrace-pool-core-1-dry.jpg", "terrace-pool-core-1-wet.jpg"];
    this.command = command;
    this.folder = mkdtempSync(join(tmpdir(), "corefleck-pair-"));
    this.photos = names;
    names.forEach((name, i) => copyFileSync(join(root, "sample_images", core[i]), join(this.folder, name)));
  }
  run(...more) {
    execFileSync(program, [this.command, ...this.photos.map((name) => `./${name}`), "--out", "out", "--quiet", ...more], { cwd: this.folder });
    const [figures, rows] = this.command === "compare" ? ["comparison.csv", "changes.csv"] : ["wetdry.csv", "wetdry_spots.csv"];
    return {
      page: pathToFileURL(this.path("out/report.html")).href,
      html: this.path("out/report.html"),
      figures: csvRows(this.path(`out/${figures}`))[0],
      rows: csvRows(this.path(`out/${rows}`)),
      summary: csvRows(this.path("out/summary.csv")),
    };
  }
  path(name) { return join(this.folder, name); }
  close() { rmSync(this.folder, { recursive: true, force: true }); }
}

/** The four sample visits of one core, or of it and a second one, tracked. */
export class TrackBench {
  constructor(names = [1, 2, 3, 4].map((visit) => `visit ${visit}.jpg`)) {
    this.folder = mkdtempSync(join(tmpdir(), "corefleck-track-"));
    this.photos = names;
    names.forEach((name, i) => copyFileSync(join(root, "sample_images", `terrace-pool-core-6-visit-${i % 4 + 1}.jpg`), join(this.folder, name)));
  }
  /** `cores` has a name a photo. */
  run(cores = this.photos.map(() => "6")) {
    const dates = ["2024-09-18", "2025-03-12", "2025-09-10", "2026-03-11"];
    const cell = (words) => `"${words.replaceAll('"', '""')}"`;
    writeFileSync(this.path("visits.csv"), ["core,date,photo", ...this.photos.map((name, i) => `${cell(cores[i])},${dates[i % 4]},${cell(name)}`)].join("\r\n"));
    execFileSync(program, ["track", "visits.csv", "--out", "out", "--quiet"], { cwd: this.folder });
    return {
      page: pathToFileURL(this.path("out/report.html")).href,
      growth: csvRows(this.path("out/growth.csv")),
      tracks: csvRows(this.path("out/tracks.csv")),
      summary: csvRows(this.path("out/summary.csv")),
    };
  }
  path(name) { return join(this.folder, name); }
  close() { rmSync(this.folder, { recursive: true, force: true }); }
}

/** A page that waits until the scripts are done, and notes each error and each request that leaves the file. `before` runs in it first. */
export async function opened(browser, url, { before, ...options } = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, acceptDownloads: true, reducedMotion: "reduce", ...options });
  const page = await context.newPage();
  page.trouble = [];
  page.on("console", (message) => { if (["error", "warning"].includes(message.type())) page.trouble.push(message.text()); });
  page.on("pageerror", (error) => page.trouble.push(String(error)));
  page.on("request", (request) => {
    if (!/^(file|data|blob):/.test(request.url())) page.trouble.push(`asked for ${request.url()}`);
  });
  if (before) await page.addInitScript(before);
  await page.goto(url);
  if (options.javaScriptEnabled !== false) await page.waitForSelector("html[data-ready]");
  return page;
}

/** Serious and critical faults that axe-core finds, one line each. */
export async function seriousFaults(page) {
  const source = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
  await page.evaluate(source);
  const results = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  return results.violations.filter((fault) => ["serious", "critical"].includes(fault.impact))
    .map((fault) => `${fault.id}: ${fault.nodes.map((node) => node.target.join(" ")).slice(0, 3).join(", ")}`);
}

/** A number as the page shows it, against a cell of a file: equal to within the last digit shown. */
export function sameFigure(shown, cell, column) {
  const step = 10 ** -(shown.split(".")[1] ?? "").length;
  assert.ok(Math.abs(Number(shown) - Number(cell)) <= 0.5000001 * step, `${column}: page ${shown}, file ${cell}`);
}

/** Every figure that the page shows by a column, against that column; gives back what it shows of each u95. */
export async function compareCells(page, table, cellOf) {
  const cells = await page.$$eval(`${table} [data-figure]`, (nodes) => nodes.map((node) => ({
    column: node.dataset.figure, value: node.querySelector(".value").textContent,
    u95: (node.querySelector(".u95")?.textContent ?? "").replace("± ", ""),
  })));
  assert.ok(cells.length > 4, `${table} has ${cells.length} figures`);
  for (const { column, value } of cells) {
    const cell = cellOf(column);
    if (value === "–") assert.equal(cell, "", column);
    else sameFigure(value, cell, column);
  }
  return Object.fromEntries(cells.map(({ column, u95 }) => [column, u95]));
}

/** Figures that the page shows in its column of corrections, by column of summary.csv. */
export async function liveFigures(page) {
  return page.evaluate(() => Object.fromEntries([...document.querySelectorAll("#figures-table [data-live]")]
    .map((node) => [node.dataset.live, {
      value: Number(node.querySelector(".value").textContent),
      digits: (node.querySelector(".value").textContent.split(".")[1] || "").length,
      u95: Number((node.querySelector(".u95")?.textContent || "").replace("±", "")),
      empty: node.querySelector(".value").textContent === "–",
    }])));
}

/** Draws a closed outline of corners in mm in the picture, by clicks. */
export async function drawCorners(page, corners) {
  const places = await page.evaluate((list) => {
    const grid = JSON.parse(document.getElementById("island").textContent).grid, svg = document.getElementById("picture");
    svg.scrollIntoView({ block: "center" });
    return list.map(([x, y]) => {
      const p = new DOMPoint(x / grid.mm_per_px + grid.centre_px + 0.5, grid.centre_px - y / grid.mm_per_px + 0.5).matrixTransform(svg.getScreenCTM());
      return [p.x, p.y];
    });
  }, corners);
  for (const [x, y] of places) await page.mouse.click(x, y);
}

export async function give(page, reason, initials) {
  await page.fill("#edit-reason", reason);
  if (initials) await page.fill("#edit-initials", initials);
  await page.click("#edit-form button[type=submit]");
  await page.waitForSelector("#edit-form", { state: "hidden" });
}

export async function saveEdits(page, to) {
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("#save-edits")]);
  if (download.suggestedFilename() !== "edits.json") throw new Error(`saved as ${download.suggestedFilename()}`);
  await download.saveAs(to);
}

export function pdfText(file) {
  return execFileSync("pdftotext", ["-layout", file, "-"], { encoding: "utf8" });
}
export function pdfFacts(file) {
  const words = execFileSync("pdfinfo", [file], { encoding: "utf8" });
  const size = words.match(/Page size:\s+([\d.]+) x ([\d.]+)/);
  return { pages: Number(words.match(/Pages:\s+(\d+)/)[1]), width: Number(size[1]), height: Number(size[2]) };
}
