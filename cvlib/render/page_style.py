"""How a printable page looks: black on white, tables that break between rows, boxes to tick."""

PAGE_STYLE = """
@page { size: A4; margin: 14mm 12mm; }
* { box-sizing: border-box; }
html { font: 10.5pt/1.35 "Helvetica Neue", Arial, "Liberation Sans", sans-serif; }
body { max-width: 190mm; margin: 0 auto; padding: 4mm; color: #000; background: #fff; }
h1 { font-size: 15pt; margin: 0 0 2mm; border-bottom: 0.6mm solid #000; padding-bottom: 1mm; }
h2 { font-size: 12pt; margin: 5mm 0 1.5mm; }
h3 { font-size: 11pt; margin: 4mm 0 1mm; }
h1, h2, h3, h1 + p, h2 + p { break-after: avoid; }
p { margin: 0 0 1.5mm; orphans: 3; widows: 3; }
.caution { margin: 0; padding: 1mm 2mm; border: 0 solid #000; border-width: 0 0.6mm; }
.caution.first { border-top-width: 0.6mm; padding-top: 1.5mm; margin-top: 2mm; }
.caution.last { border-bottom-width: 0.6mm; padding-bottom: 1.5mm; margin-bottom: 3mm; }
.caution { break-inside: avoid; }
table { border-collapse: collapse; width: calc(100% - 0.5mm); margin: 1mm 0 3mm; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { border: 0.25mm solid #000; padding: 0.8mm 1.5mm; text-align: left; vertical-align: top; }
th { font-weight: bold; border-bottom-width: 0.6mm; vertical-align: bottom; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
td.narrow, th.narrow { white-space: nowrap; }
td { overflow-wrap: break-word; }
td code { overflow-wrap: anywhere; }
.box { display: inline-block; width: 4mm; height: 4mm; border: 0.35mm solid #000; }
.blank { display: inline-block; width: 12mm; border-bottom: 0.35mm solid #000; height: 4mm; }
.faint { color: #333; }
code { font-family: "DejaVu Sans Mono", Menlo, Consolas, monospace; font-size: 92%; }
pre { font: 9pt/1.2 "DejaVu Sans Mono", Menlo, Consolas, monospace; white-space: pre;
  overflow-x: auto; break-inside: avoid; }
caption { caption-side: bottom; text-align: left; padding-top: 1mm; }
@media print { body { max-width: none; padding: 0; } pre { overflow: visible; } }
"""

PAPERS = {"a5": "148mm 210mm", "half-letter": "5.5in 8.5in"}
"""Papers that a card is printed on, by name."""


def card_style(paper: str) -> str:
    """How a card for the loco box looks: one printed page, close-set."""
    return (
        PAGE_STYLE.replace("@page { size: A4; margin: 14mm 12mm; }", "")
        + f"@page {{ size: {PAPERS[paper]}; margin: 7mm; }}"
        + CARD_STYLE
    )


CARD_STYLE = """
html { font-size: 6.6pt; line-height: 1.2; }
body { max-width: 134mm; padding: 0; }
h1 { font-size: 10pt; margin-bottom: 0.8mm; padding-bottom: 0.4mm; border-bottom-width: 0.4mm; }
h2 { font-size: 7.4pt; margin: 1.2mm 0 0.4mm; border-bottom: 0.2mm solid #000; clear: both; }
h3 { font-size: 6.6pt; margin: 0.6mm 0 0.2mm; }
p { margin: 0 0 0.4mm; }
table { width: auto; margin: 0.4mm 0 0.6mm; border-collapse: collapse; }
th, td { padding: 0 1mm; border-width: 0.15mm; }
th { border-bottom-width: 0.3mm; }
.plot { float: right; width: 52mm; margin: 0.3mm 0 0.3mm 2mm; break-inside: avoid; }
.plot text { font-size: 8px; }
.plot path, .plot polyline { fill: none; stroke: #000; stroke-width: 1.2; }
.plot .grid { stroke-width: 0.3; stroke: #666; }
.blank { width: 14mm; height: 2.6mm; }
"""
