// The worker: reads, analyses, draws and writes the report, away from the page's thread.
import { analyzeTrial, csvText, htmlPage, pageCharts, readTrial, tidyColumns, tidyTables } from "standcurve";
import { chartTextWidth, svgAddress } from "standcurve/plot";
import * as vega from "vega";
import * as vegaLite from "vega-lite";

// There is no canvas here to measure text with.
vega.textMetrics.width = chartTextWidth;

/** Charts as SVG text: no document is needed. */
async function render({ spec }) {
  const view = new vega.View(vega.parse(vegaLite.compile(spec).spec), { renderer: "none" });
  try {
    return await view.toSVG();
  } finally {
    view.finalize();
  }
}

const progress = (done, total, what) => postMessage({ kind: "progress", done, total, what });

onmessage = async ({ data: { text, prices, currency } }) => {
  let issues = [];
  try {
    const reading = readTrial(text);
    issues = reading.issues;
    const { trial } = reading;
    if (trial === null) {
      return postMessage({ kind: "failed", issues, reason: "No analysis is possible until the errors are put right." });
    }
    const analysis = analyzeTrial(trial, {
      issues,
      prices,
      onProgress: (done, total, what) => progress(done, 2 * total, `Analysing ${what}`),
    });
    const charts = await pageCharts(analysis, {
      trial,
      currency,
      render,
      onProgress: (done, total) => progress(total + done, 2 * total, "Drawing"),
    });
    postMessage({
      kind: "done",
      issues,
      json: JSON.stringify(analysis),
      html: htmlPage(analysis, { currency, charts }),
      csv: csvText(tidyTables(analysis).estimates, tidyColumns.estimates),
      charts: charts.hybrids.flatMap(({ charts: [chart] }, i) =>
        chart === undefined ? [] : [{ hybrid: analysis.hybrids[i].hybrid, alt: chart.alt, address: svgAddress(chart.svg) }],
      ),
      summary: `${analysis.trial.hybrids.length} hybrids, ${analysis.trial.plotsUsed} plots used.`,
    });
  } catch (error) {
    postMessage({ kind: "failed", issues, reason: `The analysis failed: ${error.message}` });
  }
};
