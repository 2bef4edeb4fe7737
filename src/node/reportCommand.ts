import { basename, dirname, extname } from "node:path";
import { analyzeTrial } from "../analyze/analyzeTrial.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import { htmlPage } from "../report/htmlPage.ts";
import { issueCounts, issueText } from "../report/issueText.ts";
import { type MarkdownPicture, markdownPage } from "../report/markdownPage.ts";
import { type PageChart, type PageCharts, pageCharts } from "../report/pageCharts.ts";
import { plainText } from "../report/plainText.ts";
import { commandArguments } from "./commandArguments.ts";
import { commandSettings } from "./commandSettings.ts";
import { issuesForCommand } from "./commandWords.ts";
import { inputReading } from "./inputReading.ts";
import { ownOptions } from "./ownOptions.ts";
import { progressLine } from "./progressLine.ts";
import { guarded } from "./recommendCommand.ts";
import { renderChart } from "./renderChart.ts";
import type { CommandStreams } from "./streams.ts";
import { writeFilesAtomically } from "./writeFilesAtomically.ts";

export const reportHelp = `Usage: standcurve report FILE --out report.html [options]

Analyses a trial and writes the result as one page that needs nothing else: no network, no script. A name that
ends in .md gives Markdown, with its pictures in files beside it.

  --out FILE         report.html, or report.md
  --title TEXT       title of the page
  --without-charts   tables and words only; charts need the packages vega and vega-lite

All other options are those of analyze, such as --grain-price, --seed-cost, --currency, --seed.
Exit codes: 0 all well; 1 the file has errors or cannot be read; 2 the command is wrong.

Example: standcurve report trial.csv --out report.html --grain-price 4.50 --seed-cost 3.75 --currency "$"
`;

/**
 * `standcurve report FILE --out report.html`.
 *
 * @param argv - the words after "report"
 * @returns exit code: 0 all well; 1 the file has errors, cannot be read, or the page cannot be written; 2 wrong command
 */
export async function reportCommand(argv: readonly string[], streams: CommandStreams): Promise<0 | 1 | 2> {
  const own = ownOptions(argv, ["out", "title"], ["without-charts"]);
  const { stdout, stderr } = streams;
  if (own.rest.includes("--help") || own.rest.includes("-h")) {
    stdout.write(reportHelp);
    return 0;
  }
  const typed = commandArguments(["analyze", ...own.rest]);
  const settings = commandSettings(typed);
  const out = own.values.get("out");
  const kind = { ".html": "html", ".htm": "html", ".md": "markdown" }[extname(out ?? "").toLowerCase()] ?? null;
  const problems = [
    ...own.problems,
    ...(out === undefined ? ["report needs --out FILE"] : []),
    ...(out !== undefined && kind === null ? [`--out must end in .html or .md, got "${out}"`] : []),
    ...["json", "csv", "detail"].flatMap((name) =>
      typed.switches.has(name) ? [`--${name} does not belong to report; it belongs to analyze`] : [],
    ),
    ...typed.problems.map((problem) => problem.replaceAll("analyze", "report")),
    ...settings.problems,
  ];
  if (problems.length > 0 || out === undefined) {
    for (const problem of problems) stderr.write(`standcurve: ${plainText(problem)}\n`);
    stderr.write("standcurve report --help lists its options.\n");
    return 2;
  }
  return guarded(streams, async () => {
    const { trial, issues } = await inputReading(typed.file ?? "-", settings.schema, streams);
    const forPeople = issuesForCommand(issues);
    const quiet = typed.switches.has("quiet");
    if (trial === null) {
      stderr.write(issueText(forPeople));
      stderr.write("standcurve: no report is possible until the errors are put right\n");
      return 1;
    }
    const progress = typed.switches.has("progress") || (stderr.isTTY === true && !quiet) ? progressLine(stderr) : null;
    const watching = progress === null ? {} : { onProgress: progress.report };
    const analysis = { ...analyzeTrial(trial, { ...settings.analyze, issues, ...watching }), issues: forPeople };
    const currency = typed.values.get("currency")?.[0] ?? "";
    const charts = own.switches.has("without-charts")
      ? null
      : await pageCharts(analysis, {
          trial,
          currency,
          render: renderChart,
          onProgress: (done, total) => progress?.report(done, total, "charts"),
        });
    progress?.clear();
    const files =
      kind === "html"
        ? {
            [basename(out)]: htmlPage(analysis, {
              ...titled(own.values.get("title")),
              currency,
              ...(charts === null ? {} : { charts }),
            }),
          }
        : markdownFiles(analysis, basename(out), currency, charts);
    const written = await writeFilesAtomically(dirname(out), files);
    if (!quiet) {
      stderr.write(`Wrote ${written[0]}${written.length > 1 ? ` and ${written.length - 1} pictures` : ""}\n`);
      if (issues.length > 0) stderr.write(`In the file: ${issueCounts(issues)}; the page lists them.\n`);
    }
    return issues.some(({ severity }) => severity === "error") ? 1 : 0;
  });
}

function titled(title: string | undefined): { title?: string } {
  return title === undefined ? {} : { title };
}

/** The Markdown first, then its pictures, numbered in their order. */
function markdownFiles(
  analysis: TrialAnalysis,
  name: string,
  currency: string,
  charts: PageCharts | null,
): Record<string, string> {
  if (charts === null) return { [name]: markdownPage(analysis, { currency }) };
  const pictures: Record<string, string> = {};
  const stem = name.slice(0, -extname(name).length);
  const kept = ({ svg, alt }: PageChart): MarkdownPicture => {
    const file = `${stem}-${String(Object.keys(pictures).length + 1).padStart(2, "0")}.svg`;
    pictures[file] = svg;
    return { file, alt };
  };
  const overview = charts.overview.map(kept);
  const hybrids = charts.hybrids.map((one) => one.charts.map(kept));
  const sections = Object.fromEntries(Object.entries(charts.sections).map(([title, list]) => [title, list.map(kept)]));
  return { [name]: markdownPage(analysis, { currency, pictures: { overview, hybrids, sections } }), ...pictures };
}
