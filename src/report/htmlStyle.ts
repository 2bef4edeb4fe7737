/** The style of the report page. Its hash goes into the page's security policy, so no other style can act there. */
export const htmlStyle = `
:root { color-scheme: light; --ink: #1c2126; --muted: #56606b; --line: #d5dbe1; --soft: #f3f5f7; --accent: #00598f; --warn: #8a4200; }
* { box-sizing: border-box; }
body { margin: 0; background: #fff; color: var(--ink); font: 16px/1.55 system-ui, -apple-system, "Segoe UI", Helvetica, Arial, sans-serif; }
main, header, footer { max-width: 60rem; margin: 0 auto; padding: 0 1.25rem; }
header { padding-top: 1.5rem; }
h1 { font-size: 1.9rem; line-height: 1.2; margin: 0 0 .75rem; }
h2 { font-size: 1.35rem; line-height: 1.25; margin: 2.25rem 0 .6rem; padding-top: .5rem; border-top: 2px solid var(--line); overflow-wrap: anywhere; }
h3 { font-size: 1.05rem; margin: 1.5rem 0 .4rem; }
p { margin: .5rem 0; max-width: 46rem; }
.answer { font-size: 1.2rem; line-height: 1.45; border-left: 4px solid var(--accent); padding: .2rem 0 .2rem .9rem; margin: .75rem 0 1rem; }
.warning { border-left: 4px solid var(--warn); padding: .1rem 0 .1rem .8rem; }
.warning strong { color: var(--warn); }
.tag { color: var(--muted); }
a { color: var(--accent); }
a:focus-visible, summary:focus-visible, [tabindex]:focus-visible { outline: 3px solid var(--accent); outline-offset: 2px; }
.skip { position: absolute; left: -999rem; }
.skip:focus { left: 1rem; top: .5rem; background: #fff; padding: .3rem .6rem; z-index: 1; }
nav ul { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: .25rem 1rem; margin: .5rem 0; }
.scroll { overflow-x: auto; margin: .5rem 0 1rem; }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
th, td { text-align: left; padding: .32rem .8rem .32rem 0; border-bottom: 1px solid var(--line); vertical-align: bottom; }
td { vertical-align: top; white-space: nowrap; }
caption { text-align: left; color: var(--muted); font-size: .92rem; padding-bottom: .15rem; }
th { font-weight: 600; border-bottom: 2px solid var(--muted); }
thead th, tbody th { white-space: nowrap; }
tbody th { font-weight: 600; border-bottom: 1px solid var(--line); vertical-align: top; }
th.long { white-space: normal; min-width: 8.5rem; overflow-wrap: anywhere; }
.number { text-align: right; }
figure { margin: 1rem 0 1.5rem; overflow-x: auto; }
figure img { max-width: 100%; height: auto; display: block; }
.many { display: grid; grid-template-columns: repeat(auto-fill, minmax(12.5rem, 1fr)); gap: .5rem 1rem; padding: 0; list-style: none; }
.many a { display: block; text-decoration: none; color: inherit; border: 1px solid transparent; border-radius: 4px; }
.many a:hover { border-color: var(--line); }
.many img { width: 100%; height: auto; display: block; }
li { margin: .25rem 0; max-width: 46rem; overflow-wrap: anywhere; }
details { margin: 1rem 0; }
summary { cursor: pointer; font-weight: 600; }
.facts th { white-space: nowrap; border-bottom: 1px solid var(--line); }
.facts td { overflow-wrap: anywhere; white-space: normal; }
footer { color: var(--muted); padding-bottom: 2rem; font-size: .92rem; }
@media (max-width: 40rem) {
  body { font-size: 15px; }
  h1 { font-size: 1.55rem; }
  .many { grid-template-columns: repeat(auto-fill, minmax(9rem, 1fr)); }
  .facts th { white-space: normal; }
  figure img { max-width: none; width: 38rem; }
  figure.narrow img { max-width: 100%; width: auto; }
  figure:not(.narrow)::before { content: "Move sideways to see all of this chart."; display: block; position: sticky; left: 0; color: var(--muted); font-size: .85rem; }
}
@media print {
  @page { margin: 16mm 14mm; }
  body { font-size: 10pt; line-height: 1.4; }
  main, header, footer { max-width: none; padding: 0; }
  nav, .skip { display: none; }
  a { color: inherit; text-decoration: none; }
  .scroll { overflow: visible; }
  table { font-size: 8.5pt; }
  th, td { padding-right: .5rem; }
  figure, tr, .many li, li { break-inside: avoid; }
  h2, h3 { break-after: avoid; }
  td, thead th, tbody th { white-space: normal; }
  figure { overflow: visible; }
  figure img { max-width: 100%; max-height: 110mm; width: auto; }
  figure.tall img { max-height: 235mm; }
  .many { grid-template-columns: repeat(4, 1fr); }
  p, li { max-width: none; }
}
`;
