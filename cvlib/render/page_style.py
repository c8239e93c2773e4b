"""How pages look: one small design for the catalogue, reviews and sheets, on screens and paper.

Nothing is said by colour alone. The rule under a page's name is drawn like a track in a plan.
"""

_LIGHT = """--ink: #1c2226; --soft: #4a545b; --paper: #fdfcf9; --sheet: #f2efe8; --rule: #8c8a83;
  --link: #0a5560; --hatch: #d8d3c6; --mark: #fff3c9; color-scheme: light;"""
_DARK = """--ink: #ece9e2; --soft: #b9b7b0; --paper: #15191c; --sheet: #20262a; --rule: #7d8488;
  --link: #8fd3d6; --hatch: #343c41; --mark: #4a4220; color-scheme: dark;"""
_BLACK = """--ink: #000; --soft: #333; --paper: #fff; --sheet: #fff; --rule: #000; --link: #000;
  --hatch: #ccc; --mark: #fff; color-scheme: light;"""

_A4 = """@page { size: A4; margin: 14mm 12mm;
  @bottom-right { content: "sheet " counter(page) " of " counter(pages);
    font: 9pt Arial, "Liberation Sans", sans-serif; } }
"""

_COMMON = (
    f"""
:root {{ {_LIGHT} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_DARK} }} }}
@media print {{ :root {{ {_BLACK} }} }}
"""
    + """
* { box-sizing: border-box; }
html { font: 16px/1.45 "Helvetica Neue", Arial, "Liberation Sans", sans-serif;
  scroll-padding-top: 1rem; }
body { margin: 0; color: var(--ink); background: var(--paper); overflow-wrap: break-word; }
main, header.site, footer { max-width: 74rem; margin: 0 auto; padding: 0.5rem 1rem; }
h1 { font-size: 1.7rem; line-height: 1.15; margin: 0.6rem 0 0.8rem; padding-bottom: 0.75rem;
  background: linear-gradient(var(--ink), var(--ink)) 0 calc(100% - 5px) / 100% 1px no-repeat,
    linear-gradient(var(--ink), var(--ink)) 0 calc(100% - 1px) / 100% 1px no-repeat,
    repeating-linear-gradient(90deg, var(--ink) 0 3px, transparent 3px 12px) 0 100% / 100% 7px
    no-repeat; }
h2 { font-size: 1.25rem; margin: 1.8rem 0 0.5rem; }
h3 { font-size: 1.05rem; margin: 1.2rem 0 0.35rem; }
h1, h2, h3, h1 + p, h2 + p { break-after: avoid; }
p, ul, ol, dl { margin: 0 0 0.7rem; max-width: 46rem; orphans: 3; widows: 3; }
li { margin: 0.15rem 0; }
a { color: var(--link); }
a:focus-visible, input:focus-visible, button:focus-visible, select:focus-visible,
  summary:focus-visible, [tabindex]:focus-visible { outline: 3px solid var(--link);
  outline-offset: 2px; }
.lead { font-size: 1.15rem; }
.faint, .date { color: var(--soft); }
.skip { position: absolute; left: -99rem; }
.skip:focus { left: 1rem; background: var(--paper); padding: 0.5rem; }
header.site { display: flex; flex-wrap: wrap; gap: 0.3rem 1.2rem; font-size: 0.95rem; }
header.site b { font-weight: 700; }
footer { margin-top: 3rem; font-size: 0.9rem; color: var(--soft); }
.frame { overflow-x: auto; margin: 0.3rem 0 1rem; }
table { border-collapse: collapse; width: 100%; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { border: 1px solid var(--rule); padding: 0.3rem 0.5rem; text-align: left;
  vertical-align: top; }
thead th { font-weight: 700; border-bottom-width: 2px; vertical-align: bottom; }
tbody th { background: var(--sheet); font-weight: 400; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; }
td.number, td.narrow, th.narrow { white-space: nowrap; }
tr.heavier td { border-bottom-width: 3px; }
tr.here > td:first-child { box-shadow: inset 4px 0 var(--ink); }
tr.here { background: var(--mark); }
caption { text-align: left; font-weight: 700; padding: 0.3rem 0; }
.caution { margin: 0; padding: 0.3rem 0.6rem; border: 0 solid var(--ink); border-width: 0 2px; }
.caution.first { border-top-width: 2px; padding-top: 0.5rem; margin-top: 0.6rem; }
.caution.last { border-bottom-width: 2px; padding-bottom: 0.5rem; margin-bottom: 1rem; }
.caution { break-inside: avoid; max-width: none; }
.ticked td { height: 9mm; vertical-align: middle; }
.ticked td.number, .ticked .cv b { font-size: 16pt; line-height: 1.1; white-space: nowrap; }
.ticked td.value { font-weight: 700; }
.ticked tr.warned td { border: 2px solid var(--ink); height: auto; }
.ticked tr.block td { font-weight: 700; background: var(--sheet); height: auto; }
tr.warned, tr.block { break-after: avoid; }
thead th.label { border: 0; border-bottom: 2px solid var(--ink); }
.box { display: inline-block; width: 4.5mm; height: 4.5mm; border: 0.4mm solid var(--ink); }
.blank { display: inline-block; width: 14mm; border-bottom: 0.4mm solid var(--ink);
  height: 5mm; }
code { font-family: "DejaVu Sans Mono", Menlo, Consolas, monospace; font-size: 88%; }
code span { display: inline-block; }
pre { font: 0.82rem/1.25 "DejaVu Sans Mono", Menlo, Consolas, monospace; white-space: pre;
  overflow-x: auto; }
.fields { display: flex; flex-wrap: wrap; gap: 0.6rem 1.2rem; align-items: end; padding: 0.8rem;
  background: var(--sheet); margin: 0 0 0.5rem; }
.fields label, .search label { display: block; font-weight: 700; }
input, select, button { font: inherit; color: inherit; background: var(--paper); min-height: 2.6rem;
  border: 2px solid var(--ink); padding: 0.25rem 0.6rem; max-width: 100%; }
button { cursor: pointer; }
th button { border: 0; min-height: 0; padding: 0; background: none; font-weight: 700;
  text-decoration: underline; }
.search input { width: 100%; max-width: 34rem; font-size: 1.2rem; }
.results li { margin: 0.4rem 0; }
.releases { list-style: none; padding: 0; display: flex; flex-wrap: wrap; gap: 0.2rem 1rem; }
.makers { columns: 18rem; max-width: none; padding-left: 1.2rem; }
.group table { table-layout: fixed; }
tbody.setting tr:first-child { break-after: avoid; }
.group thead th { width: 34%; }
.group thead th:last-child { width: 30%; }
.track { overflow-x: auto; margin: 0.2rem 0; }
.track svg { display: block; width: 100%; font: 12px Arial, "Liberation Sans", sans-serif; }
.track text { fill: var(--ink); }
.track .name { paint-order: stroke; stroke: var(--paper); stroke-width: 5px; font-weight: 700; }
.track .name .word { font-weight: 400; }
.track .head { text-anchor: middle; font-size: 10.5px; }
.track .rail, .track .leg { stroke: var(--ink); stroke-width: 2.5; fill: none; }
.track .between { stroke-dasharray: 7 5; }
.track .guess { stroke-dasharray: 1.5 5; stroke-linecap: round; }
.track .assumed { stroke-width: 1; }
.track .stop { stroke: var(--ink); stroke-width: 5; }
.track .plate { fill: var(--paper); stroke: var(--ink); stroke-width: 1.5; }
.track .label { font-size: 11px; text-anchor: middle; }
.track .small { font-size: 10px; paint-order: stroke; stroke: var(--paper); stroke-width: 4px; }
.track .lane { font-size: 10px; paint-order: stroke; stroke: var(--paper); stroke-width: 4px; }
.track .again { display: none; }
.track .alone .again { display: inline; }
.track .unread { fill: url(#hatch); }
.defs { position: absolute; }
.track .head { paint-order: stroke; stroke: var(--paper); stroke-width: 4px; }
.track .chosen { fill: none; stroke: var(--ink); stroke-width: 2; stroke-dasharray: 3 2; }
.track .doc { fill: var(--ink); }
.track .dot { fill: var(--paper); stroke: var(--ink); stroke-width: 2.5; }
.plot { width: 100%; max-width: 26rem; break-inside: avoid; }
.plot text { font-size: 8px; fill: var(--ink); }
.plot path, .plot polyline { fill: none; stroke: var(--ink); stroke-width: 1.2; }
.plot .grid { stroke-width: 0.3; }
.dots { width: 100%; break-inside: avoid; }
.dots text { font-size: 13px; fill: var(--ink); }
.dots path { stroke: var(--ink); }
.dots circle { fill: var(--ink); fill-opacity: 0.7; }
.dots .margin { fill: var(--ink); fill-opacity: 0.13; }
.was { text-decoration: line-through; text-decoration-thickness: 1px; }
details { margin: 0 0 0.6rem; }
summary { cursor: pointer; }
[hidden] { display: none !important; }
@media (prefers-reduced-motion: no-preference) { html { scroll-behavior: smooth; } }
@media (max-width: 40rem) { h1 { font-size: 1.35rem; } main { padding: 0.4rem 0.7rem; }
  th, td { padding: 0.25rem 0.35rem; } }
@media screen and (max-width: 40rem) {
  .fleet, .sheet { padding: 0 1px 1px 0; }
  :is(.fleet, .sheet), :is(.fleet, .sheet) > :is(thead, tbody) { display: block; }
  .fleet tr, .sheet tr { display: flex; flex-wrap: wrap; margin-bottom: 0.4rem; }
  .fleet th, .fleet td, .sheet th, .sheet td { flex: 1 1 0; min-width: 0; height: auto;
    margin: 0 -1px -1px 0; }
  .fleet :is(th, td) { flex-basis: 22%; }
  .fleet :is(th, td):nth-child(-n + 3) { flex-basis: 45%; }
  .fleet th:first-child { flex-basis: 100%; }
  .fleet td.number, .sheet .ticked td.number { white-space: normal; }
  .fleet .number::before { content: attr(data-label) " "; }
  .sheet thead { font-size: 0.8rem; }
  .sheet :is(th, td):last-child { flex-basis: 100%; }
  .sheet .blank { width: 100%; } }
@media print { html { font-size: 10.5pt; } main, header.site { max-width: none; padding: 0; }
  .fields, .search, .skip, header.site, .screen { display: none; }
  .frame, .track, pre { overflow: visible; }
  .track.wide { display: none; } pre { white-space: pre-wrap; }
  a { text-decoration: none; } figure, .track { break-inside: avoid; } }
"""
)

PAGE_STYLE = _COMMON + _A4
"""Of every page but the card."""

PAPERS = {"a5": "148mm 210mm", "half-letter": "5.5in 8.5in"}
"""Papers that a card is printed on, by name."""


def card_style(paper: str) -> str:
    """How a card for the loco box looks: one printed page, close-set."""
    return f"{_COMMON}@page {{ size: {PAPERS[paper]}; margin: 7mm; }}{CARD_STYLE}"


CARD_STYLE = """
html { font-size: 6.6pt; line-height: 1.2; }
main { max-width: 134mm; padding: 0; margin: 0; }
h1 { font-size: 10pt; margin: 0 0 0.8mm; padding-bottom: 0.4mm; background: none;
  border-bottom: 0.4mm solid; }
.frame { margin: 0; display: contents; }
h2 { font-size: 7.4pt; margin: 1.2mm 0 0.4mm; border-bottom: 0.2mm solid; clear: both; }
h3 { font-size: 6.6pt; margin: 0.6mm 0 0.2mm; }
p { margin: 0 0 0.4mm; max-width: none; }
table { width: auto; margin: 0.4mm 0 0.6mm; border-collapse: collapse; }
th, td { padding: 0 1mm; border-width: 0.15mm; }
thead th { border-bottom-width: 0.3mm; }
@media print { html { font-size: 6.6pt; } }
.plot { float: right; width: 52mm; margin: 0.3mm 0 0.3mm 2mm; }
.blank { width: 14mm; height: 2.6mm; }
"""
