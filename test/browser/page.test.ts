import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import type { Server } from "node:http";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import { htmlPage } from "../../src/report/htmlPage.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { manyHybrids } from "../report/manyHybrids.ts";
import { browserTools, serve } from "./browserTools.ts";

const root = new URL("../..", import.meta.url).pathname;
const csv = (name: string): string => readFileSync(join(root, "data-demo", name), "utf8");

/** The little of Playwright that is used here; its own types would make it a must. */
interface Page {
  goto(url: string): Promise<unknown>;
  evaluate<T>(work: string): Promise<T>;
  on(
    event: string,
    listener: (value: { text?(): string; url?(): string; message?: string; type?(): string }) => void,
  ): void;
  setInputFiles(selector: string, files: unknown): Promise<void>;
  textContent(selector: string): Promise<string>;
  getAttribute(selector: string, name: string): Promise<string>;
  click(selector: string): Promise<void>;
  fill(selector: string, value: string): Promise<void>;
  selectOption(selector: string, value: string): Promise<unknown>;
  waitForEvent(name: "download"): Promise<{ path(): Promise<string>; suggestedFilename(): string }>;
  keyboard: { press(key: string): Promise<void> };
  close(): Promise<void>;
}
interface Browser {
  newPage(options?: unknown): Promise<Page>;
  close(): Promise<void>;
}

// Slow: builds the page and starts a browser. STANDCURVE_SLOW=1.
const slow = process.env["STANDCURVE_SLOW"] === "1";
const tools = slow ? browserTools() : null;

describe.skipIf(tools === null)("in Chromium", () => {
  let browser: Browser;
  let server: Server;
  let url: string;
  const folder = mkdtempSync(join(tmpdir(), "standcurve-page-"));

  beforeAll(async () => {
    const page: string = join(root, "data-demo/page/build.mjs");
    const { buildPage, bundle } = await import(page);
    await buildPage(folder);
    await bundle(join(root, "dist/index.js"), join(folder, "standcurve.js"));
    writeFileSync(join(folder, "entry.html"), "<!doctype html><title>entry</title>");
    ({ url, server } = await serve(folder));
    const playwright: string = "playwright-core";
    const { chromium } = await import(playwright);
    browser = await chromium.launch({ executablePath: tools?.chromium, args: ["--no-sandbox"] });
  }, 120_000);

  afterAll(async () => {
    await browser?.close();
    server?.close();
  });

  /** A page that records what it should not do: errors, and requests to anywhere else. */
  async function open(path: string): Promise<{ page: Page; faults: string[] }> {
    const page = await browser.newPage();
    const faults: string[] = [];
    page.on("pageerror", (error) => faults.push(String(error.message)));
    page.on("console", (message) => {
      if (message.type?.() === "error") faults.push(message.text?.() ?? "");
    });
    page.on("request", (request) => {
      const target = request.url?.() ?? "";
      if (!target.startsWith(url) && !target.startsWith("data:") && !target.startsWith("blob:")) faults.push(target);
    });
    await page.goto(`${url}/${path}`);
    return { page, faults };
  }

  async function axe(page: Page): Promise<string[]> {
    await page.evaluate(`(() => { ${tools?.axe}; window.axe = axe; })()`);
    const found = await page.evaluate<{ id: string; impact: string; nodes: { html: string }[] }[]>(
      "axe.run(document, { iframes: false }).then((result) => result.violations.map(({ id, impact, nodes }) => ({ id, impact, nodes: nodes.map(({ html }) => ({ html })) })))",
    );
    return found
      .filter(({ impact }) => ["serious", "critical"].includes(impact))
      .map(({ id, nodes }) => `${id}: ${nodes[0]?.html}`);
  }

  /** Waits until an expression is true. Playwright's own waiting evaluates text inside the page, which its policy forbids. */
  async function until(page: Page, expression: string): Promise<void> {
    for (let i = 0; i < 1200; i++) {
      if (await page.evaluate<boolean>(`Boolean(${expression})`)) return;
      await new Promise((resolve) => setTimeout(resolve, 100));
    }
    throw new Error(`never true: ${expression}`);
  }

  const status = 'document.getElementById("status").textContent';
  const finished = (page: Page): Promise<void> =>
    until(page, `document.getElementById("progress").hidden && /used|errors|failed/.test(${status})`);

  test.each(["plots.csv", "strips.csv", "messy-semicolon.csv", "messy-cells.csv"])(
    "the pure entry, loaded as an ES module, gives the JSON that Node gives, byte for byte: %s",
    async (name) => {
      const { page, faults } = await open("entry.html");
      const text = csv(name);
      const script = `import("/standcurve.js").then(({ readTrial, analyzeTrial }) => { const { trial, issues } = readTrial(${JSON.stringify(text)}); return trial === null ? "" : JSON.stringify(analyzeTrial(trial, { issues, resamples: 200, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } })); })`;
      const there = await page.evaluate<string>(script);
      const { trial, issues } = readTrial(text);
      const here =
        trial === null
          ? ""
          : JSON.stringify(
              analyzeTrial(trial, { issues, resamples: 200, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } }),
            );
      expect(there.length).toBeGreaterThan(1000);
      expect(there === here).toBe(true);
      expect(faults).toEqual([]);
      await page.close();
    },
    120_000,
  );

  test("a file can be put in, its problems seen, a chart looked at, a price changed, the report read and downloaded", async () => {
    const { page, faults } = await open("index.html");
    expect(await axe(page)).toEqual([]);
    await page.evaluate(
      '(() => { window.said = new Set(); new MutationObserver(() => said.add(document.getElementById("status").textContent)).observe(document.getElementById("status"), { childList: true }); })()',
    );
    await page.setInputFiles("#file", {
      name: "strips.csv",
      mimeType: "text/csv",
      buffer: Buffer.from(csv("strips.csv")),
    });
    await finished(page);
    expect(await page.textContent("#status")).toContain("2 hybrids, 40 plots used");
    // The worker said what it was at: reading, each hybrid, drawing.
    expect(await page.evaluate<number>("[...said].filter((text) => text.endsWith('…')).length")).toBeGreaterThan(2);
    expect(await page.textContent("#issues")).toContain("note:");
    expect(await page.getAttribute("#chart", "alt")).toContain("Amber 12: yield against stand");
    expect(await page.evaluate<number>('document.getElementById("chart").naturalWidth')).toBeGreaterThan(300);
    await page.selectOption("#hybrid", "Cedar 21");
    expect(await page.getAttribute("#chart", "alt")).toContain("Cedar 21");
    expect(await axe(page)).toEqual([]);

    const before = await page.evaluate<string>('document.getElementById("report").srcdoc');
    expect(before).toContain("$4.50 per bu");
    await page.fill("#grain", "3.00");
    await page.keyboard.press("Tab");
    await until(page, 'document.getElementById("report").srcdoc.includes("$3.00 per bu")');
    expect(await page.evaluate<string>('document.getElementById("hybrid").value')).toBe("Cedar 21");

    const arriving = page.waitForEvent("download");
    await page.click('[data-download="json"]');
    const file = await arriving;
    expect(file.suggestedFilename()).toBe("analysis.json");
    const { trial, issues } = readTrial(csv("strips.csv"));
    if (trial === null) throw new Error("the demo trial must be readable");
    const here = JSON.stringify(analyzeTrial(trial, { issues, prices: { grainPrice: 3, seedCostPerThousand: 3.75 } }));
    expect(JSON.stringify(JSON.parse(readFileSync(await file.path(), "utf8")))).toBe(here);
    expect(faults).toEqual([]);
    await page.close();
  }, 180_000);

  test("a file can be dropped, and a hopeless or hostile one is answered with its problems, not with a broken page", async () => {
    const { page, faults } = await open("index.html");
    const dropped = (text: string): Promise<unknown> =>
      page.evaluate(
        `(() => { const data = new DataTransfer(); data.items.add(new File([${JSON.stringify(text)}], "dropped.csv")); document.getElementById("drop").dispatchEvent(new DragEvent("drop", { dataTransfer: data, bubbles: true, cancelable: true })); })()`,
      );
    await dropped("no,trial\n1,2\n");
    await finished(page);
    expect(await page.textContent("#status")).toMatch(/errors|failed/);
    expect(await page.evaluate<boolean>('document.getElementById("result").hidden')).toBe(true);
    const names = ["<img src=x onerror=alert(1)>", "</option><script>alert(2)</script>"];
    await dropped(manyHybrids(2, (i) => names[i] ?? ""));
    await until(page, '/used/.test(document.getElementById("status").textContent)');
    expect(await page.evaluate<number>('document.querySelectorAll("main img").length')).toBe(1);
    expect(await page.textContent("#hybrid")).toContain("<img src=x onerror=alert(1)>");
    expect(faults).toEqual([]);
    await page.close();
  }, 180_000);

  test("everything can be reached and used with the keyboard", async () => {
    const { page } = await open("index.html");
    const order: string[] = [];
    for (let i = 0; i < 5; i++) {
      await page.keyboard.press("Tab");
      order.push(await page.evaluate<string>("document.activeElement.id"));
    }
    expect(order).toEqual(["file", "example", "grain", "seed", "currency"]);
    await page.close();
  });

  test("on a phone nothing of it leaves the screen, the chart scrolls in its own frame", async () => {
    const phone = await browser.newPage({ viewport: { width: 390, height: 844 } });
    await phone.goto(`${url}/index.html`);
    await phone.setInputFiles("#file", {
      name: "strips.csv",
      mimeType: "text/csv",
      buffer: Buffer.from(csv("strips.csv")),
    });
    await finished(phone);
    expect(await phone.evaluate<number>("document.documentElement.scrollWidth")).toBeLessThanOrEqual(390);
    expect(await phone.evaluate<number>('document.getElementById("chart").clientWidth')).toBeGreaterThan(500);
    expect(await axe(phone)).toEqual([]);
    await phone.close();
  });

  test("the report of sixty hybrids has no serious finding, fits a phone and needs nothing from the network", async () => {
    const { trial, issues } = readTrial(manyHybrids(60));
    if (trial === null) throw new Error("the trial must be readable");
    const analysis = analyzeTrial(trial, {
      issues,
      resamples: 0,
      prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 },
    });
    writeFileSync(join(folder, "report.html"), htmlPage(analysis, { currency: "$" }));
    const { page, faults } = await open("report.html");
    expect(await axeUnderPolicy(page)).toEqual([]);
    expect(await page.evaluate<string>('getComputedStyle(document.querySelector(".answer")).borderLeftStyle')).toBe(
      "solid",
    );
    expect(faults.filter((fault) => !fault.includes("axe"))).toEqual([]);
    await page.close();
    const phone = await browser.newPage({ viewport: { width: 390, height: 844 } });
    await phone.goto(`${url}/report.html`);
    expect(await phone.evaluate<number>("document.documentElement.scrollWidth")).toBeLessThanOrEqual(390);
    await phone.close();
  }, 180_000);

  /** The page's policy forbids scripts to the page; the test's own run in an isolated world. */
  const axeUnderPolicy = axe;
});
