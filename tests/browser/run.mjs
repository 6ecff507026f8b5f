// Runs one case, or all of them:   COREFLECK_PROGRAM=... node run.mjs [NAME]
// Exit status: 0 passed, 1 failed, 77 skipped, because a browser or its driver is missing.
import { readFileSync } from "node:fs";

const wanted = process.argv[2];
let driver = null;
try {
  driver = await import("playwright-core");
} catch { /* said below */ }
const { chromiumPath } = await import("./bench.mjs");
const missing = !driver ? "playwright-core is not installed here (tools/install_dependencies test)"
  : !chromiumPath() ? "Chromium is not installed here (tools/install_dependencies test)" : "";
if (missing) {
  console.log(`skipped: ${missing}`);
  process.exit(77);
}

const modules = await Promise.all(["./reading.mjs", "./correcting.mjs", "./printing.mjs", "./pairs.mjs", "./tracks.mjs"].map((name) => import(name)));
const cases = Object.assign({}, ...modules.map((module) => module.default));
const listed = readFileSync(new URL("cases.txt", import.meta.url), "utf8").split("\n").filter(Boolean);
const strayed = Object.keys(cases).filter((name) => !listed.includes(name)).concat(listed.filter((name) => !(name in cases)));
if (strayed.length > 0) {
  console.error(`cases.txt and the cases differ: ${strayed.join("; ")}`);
  process.exit(1);
}

const browser = await driver.chromium.launch({ executablePath: chromiumPath(), args: ["--no-sandbox"] });
let failed = 0;
for (const name of wanted ? [wanted] : Object.keys(cases)) {
  try {
    await cases[name](browser);
    console.log(`passed: ${name}`);
  } catch (error) {
    ++failed;
    console.error(`failed: ${name}\n${error.stack}`);
  }
}
await browser.close();
process.exit(failed > 0 ? 1 : 0);
