// What every case stands on: a measured photo in a folder of its own, and a page that reports what goes wrong in it.
import { execFileSync, spawnSync } from "node:child_process";
import { copyFileSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
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

/** A page that waits until the scripts are done, and notes each error and each request that leaves the file. */
export async function opened(browser, url, options = {}) {
  const context = await browser.newContext({ viewport: { width: 1280, height: 900 }, acceptDownloads: true, reducedMotion: "reduce", ...options });
  const page = await context.newPage();
  page.trouble = [];
  page.on("console", (message) => { if (["error", "warning"].includes(message.type())) page.trouble.push(message.text()); });
  page.on("pageerror", (error) => page.trouble.push(String(error)));
  page.on("request", (request) => {
    if (!/^(file|data|blob):/.test(request.url())) page.trouble.push(`asked for ${request.url()}`);
  });
  await page.goto(url);
  if (options.javaScriptEnabled !== false) await page.waitForSelector("html[data-ready]");
  return page;
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
