// Open pages in headless Chromium and tell, as JSON, what a reader would meet.
//
// node look.mjs MODULES CHROMIUM OUT PAGE...
//
// Each page is opened 360 pixels wide and light, 1400 wide and dark: console messages, requests
// beyond the file itself, what axe-core finds, what sticks out sideways; then it is printed to PDF
// on A4 and Letter. With VIEWS=all in the environment it is opened in both schemes at both widths,
// and each view leaves a screenshot in OUT. MODULES is a folder with the npm packages axe-core and
// playwright-core.
import { createRequire } from "node:module";
import { basename, join } from "node:path";
import { pathToFileURL } from "node:url";

const [modules, executablePath, out, ...files] = process.argv.slice(2);
const load = createRequire(join(modules, "index.js"));
const { chromium } = load("playwright-core");
const { source: axe } = load("axe-core");

const ALL = process.env.VIEWS === "all";
const VIEWS = [360, 1400]
  .flatMap((width) => ["light", "dark"].map((colorScheme) => ({ width, colorScheme })))
  .filter(({ width, colorScheme }) => ALL || (width === 360) === (colorScheme === "light"));
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"];

const A4_INSIDE_MARGINS = 688; // 182 mm at 96 pixels to the inch; Letter is wider

// Its own sandbox needs rights that a container does not give; the pages are ours and run nothing.
const browser = await chromium.launch({ executablePath, args: ["--no-sandbox"] });
const report = {};
for (const file of files) {
  const name = basename(file, ".html");
  report[name] = { messages: [], requests: [], violations: [], sideways: [], checked: 0 };
  for (const view of VIEWS) await look(file, name, view);
}
await browser.close();
process.stdout.write(JSON.stringify(report, null, 1));

async function look(file, name, { width, colorScheme }) {
  const page = await browser.newPage({ viewport: { width, height: 900 }, colorScheme });
  const told = report[name];
  page.on("console", (message) => told.messages.push(message.text()));
  page.on("pageerror", (error) => told.messages.push(String(error)));
  page.on("request", (request) => told.requests.push(request.url()));
  page.on("dialog", async (dialog) => {
    told.messages.push(`dialog: ${dialog.message()}`);
    await dialog.dismiss();
  });
  const url = pathToFileURL(file).href;
  await page.goto(url);
  told.requests = told.requests.filter((each) => each !== url);
  await page.evaluate(axe);
  const found = await page.evaluate(
    (tags) => window.axe.run(document, { runOnly: { type: "tag", values: tags } }),
    RULES,
  );
  for (const violation of found.violations) {
    const where = violation.nodes.slice(0, 3).map((node) => node.html.slice(0, 160));
    told.violations.push({ view: `${width} ${colorScheme}`, rule: violation.id, where });
  }
  told.sideways.push(...(await page.evaluate(stickingOut)).map((each) => `${width}: ${each}`));
  told.checked += found.passes.length;
  if (ALL) {
    await page.screenshot({ path: join(out, `${name}-${width}-${colorScheme}.png`), fullPage: true });
  }
  if (width === 1400 && colorScheme === "dark") {
    told.rows = await page.evaluate(() =>
      [...document.querySelectorAll("tbody tr, .card")].map((each) => each.innerText),
    );
    await page.emulateMedia({ media: "print" });
    await page.setViewportSize({ width: A4_INSIDE_MARGINS, height: 900 });
    told.sideways.push(...(await page.evaluate(stickingOut)).map((each) => `print: ${each}`));
    for (const format of ["A4", "Letter"]) {
      await page.pdf({ path: join(out, `${name}-${format}.pdf`), format, preferCSSPageSize: false });
    }
  }
  await page.close();
}

/** Name what is wider than the page, and what is wider than its own place. */
function stickingOut() {
  const page = document.documentElement;
  const seen = (each) => each.getBoundingClientRect().right >= 0 && !each.closest("svg, .wide");
  const wide = [...document.querySelectorAll("body *")].filter(
    (each) =>
      seen(each) &&
      (each.getBoundingClientRect().right > page.clientWidth + 0.5 ||
        (getComputedStyle(each).display !== "inline" && each.scrollWidth > each.clientWidth + 1)),
  );
  const named = wide.map((each) => `${each.tagName} ${each.className} ${each.innerText ?? ""}`);
  if (page.scrollWidth > page.clientWidth) named.unshift(`the page: ${page.scrollWidth}`);
  return named.slice(0, 5).map((each) => each.slice(0, 120));
}
