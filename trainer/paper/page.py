"""A whole page to print: one HTML5 file with its style inside, no script, nothing from outside.

Contrast is 12:1 or more for all text (WCAG 2.2, 1.4.6 asks 7:1), and what a shade says is also
said by a sign, so that a grey print loses nothing. Without a paper size the printer's own is
taken: the margins suit A4 and Letter.
"""

from __future__ import annotations

from typing import Literal

from trainer.paper.html import Element, el, p

Paper = Literal["A4", "letter"]
Size = Literal["large", "tight"]

INK, SOFT, LINE = "#111", "#333", "#555"

_STYLE = f"""
@page {{ margin: 16mm 16mm 18mm; }}
@page {{ @bottom-right {{ content: counter(page) " / " counter(pages);
  font: 9pt sans-serif; color: {SOFT}; }} }}
* {{ box-sizing: border-box; }}
html {{ background: #fff; color: {INK};
  font: 11.5pt/1.45 "Noto Sans", "Segoe UI", "Helvetica Neue", "DejaVu Sans", Arial, sans-serif; }}
body {{ margin: 0 auto; padding: 1.5rem; max-width: 46rem; overflow-wrap: break-word; }}
h1, h2, h3 {{ line-height: 1.2; break-after: avoid; break-inside: avoid; }}
h1 {{ font-size: 1.9em; margin: 0 0 .15em; }}
h2 {{ font-size: 1.35em; margin: 1.5em 0 .4em; padding-bottom: .15em;
  border-bottom: 1.5pt solid {INK}; }}
h3 {{ font-size: 1.1em; margin: 1.1em 0 .3em; }}
p {{ margin: .35em 0; orphans: 3; widows: 3; }}
ul {{ margin: .35em 0; padding-left: 1.2em; }}
li {{ margin: .2em 0; break-inside: avoid; }}
.about {{ color: {SOFT}; margin-bottom: .8em; }}
.note {{ border-left: 3pt solid {LINE}; padding: .1em 0 .1em .8em; color: {SOFT};
  margin: .8em 0; break-inside: avoid; }}
.first {{ font-size: 1.12em; }}
table {{ border-collapse: collapse; width: 100%; margin: .6em 0; font-size: .95em; }}
caption {{ text-align: left; color: {SOFT}; padding-bottom: .3em; }}
thead {{ display: table-header-group; }}
tr, .row {{ break-inside: avoid; }}
th, td {{ text-align: left; vertical-align: top; padding: .28em .7em .28em 0; }}
thead .figure {{ white-space: normal; }}
thead th {{ border-bottom: 1pt solid {LINE}; font-weight: 600; vertical-align: bottom; }}
tbody td, tbody th {{ border-bottom: .5pt solid #999; }}
tbody th {{ font-weight: 600; }}
th:last-child, td:last-child {{ padding-right: 0; }}
.figure {{ text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }}
.day {{ white-space: nowrap; }}
.programme th:first-child {{ width: 13em; }}
.place {{ min-width: 8.6em; }}
.number {{ font-size: 1.9em; font-weight: 700; line-height: 1; }}
.sign {{ font-weight: 700; }}
svg {{ display: block; width: 100%; height: auto; }}
.map {{ margin: .6em 0; }}
.key {{ display: flex; flex-wrap: wrap; gap: .2em 1.4em; margin: .3em 0 .6em; }}
.key svg {{ display: inline-block; width: 1.6em; height: .8em; margin-right: .4em; }}
.onward {{ columns: 2; column-gap: 2em; }}
.rule {{ border-bottom: .75pt solid {LINE}; height: 9.5mm; break-inside: avoid; }}
footer {{ margin-top: 1.6em; font-size: .85em; color: {SOFT}; }}
.large {{ font-size: 14.5pt; line-height: 1.4; }}
.large table, .large footer, .large caption {{ font-size: 1em; }}
.large .day {{ white-space: nowrap; }}
.programme th:first-child {{ width: 13em; }}
.number {{ font-size: 2.1em; }}
.tight {{ font-size: 10.5pt; line-height: 1.35; }}
.tight h2 {{ margin: 1em 0 .25em; }}
.tight h3 {{ margin: .5em 0 .15em; }}
.tight li {{ margin: .1em 0; }}
@media print {{ body {{ padding: 0; max-width: none; }} }}
"""


def document(
    title: str,
    *body: Element | None,
    about: str = "",
    foot: str = "",
    size: Size | None = None,
    paper: Paper | None = None,
) -> str:
    """The text of the file. `title` is its heading, `about` the line under that, `foot` the
    last line; `size` is large for reading from a music stand, 14 pt and more, or tight where
    all has to stand on one page."""
    style = _STYLE + (f"@page {{ size: {paper}; }}\n" if paper else "")
    head = el(
        "head",
        el("meta", charset="utf-8"),
        el("meta", name="viewport", content="width=device-width, initial-scale=1"),
        el("title", title),
        el("style", style),
    )
    top = el("header", el("h1", title), p(about, class_="about") if about else None)
    end = el("footer", p(foot)) if foot else None
    shown = el("body", top, el("main", *body), end, class_=size)
    return f"<!DOCTYPE html>\n{el('html', head, shown, lang='en')}"
