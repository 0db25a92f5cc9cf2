"""A comparison on paper and on one page of HTML: the same records, as tables."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import jinja2

import calc
from calc.package.document.parts import Document, Section
from calc.package.document.pdf import write_pdf
from calc.package.manifest import shown
from calc.review.compare.change import Change, count_of
from calc.review.compare.comparison import DOCUMENTS, GROUPS, NOTICES, ON_PURPOSE, STEPS, Comparison, Part
from calc.show.view import table_view

_COLUMNS = ("What", "Before", "After", "Difference, and what else", "Follows from")
_MOST_PAGES = 2
_ROWS = (40, 20, 12, 8, 5, 3)  # of a table of the sheet; as many as two pages take
_CELL = 110  # characters
_VALUES, _ALL = 3, 200
_BLANK = ("", "", "")
_SIGNED = ("Role", "Name", "Date", "Signature")


def page_of(found: Comparison) -> str:
    """Return a comparison as one HTML page that asks no network for anything; every text in it is escaped."""
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    tables = [(part.title, *_filled(_columns(part), _rows(found, part))) for part in found.parts()]
    return environment.from_string(_PAGE).render(this=found, tables=tables, closed=STEPS, rest=_rest(found))


def _rest(found: Comparison) -> list[tuple[str, list[str]]]:
    """The sections that are no tables: the software, and what is as before."""
    titles = [part.title for part in found.parts()]
    return [(title, lines) for title, lines in found.sections() if title not in titles]


def _columns(part: Part) -> tuple[str, ...]:
    if part.title == ON_PURPOSE:
        return ("No.", *_COLUMNS[:4], "Where it stands")
    return ("File", "What it says otherwise") if part.title == DOCUMENTS else _COLUMNS


def _rows(found: Comparison, part: Part) -> list[list[str]]:
    if part.title == DOCUMENTS:
        return [[one.where, one.told] for one in part.changes]
    numbers = found.numbers if part.title != ON_PURPOSE else {}
    rows = [[*one.row(numbers)] for one in part.changes]
    if part.title == ON_PURPOSE:
        return [
            [str(n), *row[:4], shown(one.id, 80)]
            for n, (row, one) in enumerate(zip(rows, part.changes, strict=True), 1)
        ]
    return rows


def sheet_name(found: Comparison) -> str:
    """Return what the sheet is called: number and both revisions, which are parts of folders' names already."""
    facts = found.facts
    return f"{facts.get('number', 'job')}-{facts.get('earlier', '')}-to-{facts.get('revision', '')}"


def write_sheet(found: Comparison, path: Path) -> int:
    """Write a comparison as a sheet of one or two pages, to be filed with the revision.

    Parameters
    ----------
    found
        The comparison of two packages.
    path
        The file to write.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    DocumentError
        The document could not be written.

    Notes
    -----
    Its date is that on which the later package was built. Steps are counted for each bar group; where a table is longer
    than two pages allow, it says how many rows are left out.
    """
    pages = 0
    for most in _ROWS:
        blocks = tuple(dict(view) for view in _blocks(found, most))
        stamp = f"compare with calc {calc.__version__} · {found.after}"
        section = Section(f"What changed from revision {found.facts.get('earlier', '?')}", blocks)
        pages = write_pdf(
            Document("What changed between two revisions", dict(found.facts), None, (section,), shown(stamp, 100)),
            path,
            {},
        )
        if pages <= _MOST_PAGES:
            break
    return pages


def _blocks(found: Comparison, most: int) -> list[Any]:
    """The sheet's tables: all that was changed on purpose, and the first rows of what follows."""
    about = [("Before", found.before), ("After", found.after), ("In short", found.summary)]
    blocks = [table_view("What is compared", ("What", "In words"), about).block]
    for part in found.parts():
        if part.title == ON_PURPOSE:
            blocks.append(_table(part.title, _columns(part), _rows(found, part), _ALL))
        elif part.title == STEPS:
            blocks.append(_table(part.title, ("Bar group", "Steps"), _by_group(part, _counted), 2 * most))
        elif part.title == GROUPS:
            blocks.append(_table(part.title, ("Bar group", "Values"), _by_group(part, _values), 2 * most))
        elif part.title == NOTICES:
            blocks.append(_table(part.title, ("Notice", "What it says now"), _said(part), most))
        else:
            blocks.append(_table(part.title, _columns(part), _rows(found, part), most))
    rest = [(title, _cut(line, 600)) for title, lines in _rest(found) for line in lines[:most]]
    blocks += [table_view("Software, and what is as before", ("What", "In words"), rest).block] if rest else []
    return [
        *blocks,
        table_view("Filed with the revision", _SIGNED, [("Compared", *_BLANK), ("Checked", *_BLANK)]).block,
    ]


def _table(title: str, columns: Sequence[str], rows: Sequence[Sequence[str]], most: int) -> Any:
    names, told = _filled(columns, [[_cut(cell) for cell in row] for row in rows[:most]])
    if len(rows) > most:
        told.append([f"and {count_of(len(rows) - most, 'more row')}", *("" for _ in names[1:])])
    return table_view(title, names, told).block


def _filled(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> tuple[list[str], list[list[str]]]:
    """Leave out the columns in which nothing stands."""
    used = [place for place in range(len(columns)) if any(row[place] for row in rows)]
    return [columns[place] for place in used], [[row[place] for place in used] for row in rows]


def _by_group(part: Part, told: Callable[[Sequence[Change]], str]) -> list[tuple[str, str]]:
    """One row for each bar group, and one for the whole job."""
    marks = dict.fromkeys(one.mark for one in part.changes)
    return [(shown(mark, 40) or "whole job", told([one for one in part.changes if one.mark == mark])) for mark in marks]


def _values(changes: Sequence[Change]) -> str:
    """The first values of a group, without its mark."""
    few = [f"{one.where.removeprefix(f'{one.mark}: ')} {one.told}" for one in changes[:_VALUES]]
    return "; ".join(few) + (f"; and {len(changes) - _VALUES} more" if len(changes) > _VALUES else "")


def _said(part: Part) -> list[tuple[str, str]]:
    return [(one.where, f"dropped: {one.before}" if one.what == "removed" else one.after) for one in part.changes]


def _counted(changes: Sequence[Change]) -> str:
    count = Counter(one.what for one in changes)
    return ", ".join(f"{count[what]} {told}" for what, told in _WHATS if count[what])


_WHATS = (
    ("value", "by value"),
    ("formula", "by formula"),
    ("added", "added"),
    ("removed", "removed"),
    ("inputs", "by inputs"),
    ("text", "in words"),
)


def _cut(text: str, most: int = _CELL) -> str:
    return text if len(text) <= most else text[: most - 1] + "…"


_PAGE = """\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="color-scheme" content="light dark">
<title>Comparison of two calculation packages</title>
<style>
body { max-width: 75rem; margin: 0 auto; padding: 0 1.25rem 2rem; font: 1rem/1.5 Georgia, "Times New Roman", serif;
       overflow-wrap: anywhere; }
dl { display: grid; grid-template-columns: auto 1fr; gap: .2rem 1rem; } dd { margin: 0; }
th { overflow-wrap: normal; } .summary { font-weight: bold; } li { margin: .2rem 0; } h2 { font-size: 1.25rem; }
table { border-collapse: collapse; width: 100%; } th, td { text-align: left; vertical-align: top;
       padding: .25rem .75rem .25rem 0; border-bottom: 1px solid color-mix(in srgb, currentColor 25%, transparent); }
td { overflow-wrap: break-word; font-variant-numeric: tabular-nums; } summary { min-height: 1.5rem; cursor: pointer; }
</style>
</head>
<body>
<main>
<h1>Comparison of two calculation packages</h1>
<dl><dt>Before</dt><dd>{{ this.before }}</dd><dt>After</dt><dd>{{ this.after }}</dd></dl>
<p class="summary">{{ this.summary }}</p>
{% for title, columns, rows in tables %}
<section aria-labelledby="part-{{ loop.index }}"><h2 id="part-{{ loop.index }}">{{ title }} ({{ rows|length }})</h2>
{% if title == closed %}<details><summary>Show all {{ rows|length }}</summary>{% endif %}
<table>
<thead><tr>{% for name in columns %}<th scope="col">{{ name }}</th>{% endfor %}</tr></thead>
<tbody>
{% for row in rows %}
<tr>{% for cell in row %}<td>{{ cell }}</td>{% endfor %}</tr>
{% endfor %}
</tbody></table>
{% if title == closed %}</details>{% endif %}
</section>
{% endfor %}
{% for title, lines in rest %}
<section aria-labelledby="rest-{{ loop.index }}"><h2 id="rest-{{ loop.index }}">{{ title }}</h2>
<ul>
{% for line in lines %}
<li>{{ line }}</li>
{% endfor %}
</ul></section>
{% endfor %}
</main>
</body>
</html>
"""
