"""What a file says: its pieces by place, where two files differ first, and files that are no files of their kind."""

import io
import json
import zipfile

import pytest

from calc.package.contents import difference, pieces
from calc.package.manifest import PackageError

PAGE = '<h2>Doses</h2><p title="{tip}">P5: {dose}</p><img alt="a hole" src="data:image/svg+xml;base64,{picture}">'
SVG = '<svg><path d="M {x} 9.5 L 3 4"/></svg>'
NAMES = '<workbook xmlns="{0}"><sheets><sheet name="Doses"/></sheets></workbook>'
CELLS = '<row><c r="A1" t="s"><v>0</v></c><c r="B1"><f>{2}</f><v>{1}</v></c></row>'
SHEET = f'<worksheet xmlns="{{0}}"><sheetData>{CELLS}</sheetData></worksheet>'
SPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"


def page(dose="134 mL", tip="", x="1.25"):
    import base64

    return PAGE.format(dose=dose, tip=tip, picture=base64.b64encode(SVG.format(x=x).encode()).decode()).encode()


def workbook(value="2", text="P5", formula="1+1", **more):
    parts = {
        "xl/workbook.xml": NAMES.format(SPACE),
        "xl/worksheets/sheet1.xml": SHEET.format(SPACE, value, formula),
        "xl/sharedStrings.xml": f'<sst xmlns="{SPACE}"><si><t>{text}</t></si></sst>',
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        for name, body in (parts | more).items():
            book.writestr(name, body)
    return out.getvalue()


def notebook(text="134 mL", x="1.25"):
    data = {"text/plain": [f"{text}\n", "and more"], "image/svg+xml": SVG.format(x=x)}
    return json.dumps({"cells": [{"source": "1"}, {"source": "dose", "outputs": [{"data": data}]}]}).encode()


@pytest.mark.parametrize(
    ("name", "one", "other", "said"),
    [
        ("a.html", page(), page(dose="104 mL"), "under Doses: 'P5: 134 mL' → 'P5: 104 mL'"),
        ("a.html", page(), page(tip="x"), "under Doses: '<p title=\"\">' → '<p title=\"x\">'"),
        ("a.xlsx", workbook(), workbook("3"), "Doses!B1: '2' → '3'"),
        ("a.xlsx", workbook(), workbook(text="P6"), "Doses!A1: 'P5' → 'P6', and 1 more"),
        ("a.xlsx", workbook(), workbook(formula="2"), "Doses!B1, formula: '1+1' → '2'"),
        ("a.ipynb", notebook(), notebook("104 mL"), "cell 2 outputs 0 data text/plain: "),
        ("a.csv", b"mark,dose\nP5,134\n", b"mark,dose\nP5,104\n", "line 2: 'P5,134' → 'P5,104'"),
        ("a.csv", b"a\nb\n", b"a\n", "line 2: 'b' → nothing"),
        ("a.csv", b"a\n", b"a\nb\nc\n", "line 2: nothing → 'b', and 1 more"),
        ("a.txt", b"x" * 300 + b"1", b"x" * 300 + b"2", "x1' → '…"),
    ],
)
def test_where_two_files_differ_first(name, one, other, said):
    assert said in difference(name, one, other)
    assert difference(name, one, one) == difference(name, other, other) == ""


def test_a_picture_is_the_same_to_a_twentieth():
    for name, make in (("a.html", page), ("a.ipynb", notebook)):
        assert difference(name, make(x="1.25"), make(x="1.29")) == ""
        assert difference(name, make(x="1.25"), make(x="1.35"))


def test_a_part_put_into_a_workbook_is_found():
    assert "xl/vbaProject.bin" in difference("a.xlsx", workbook(), workbook(**{"xl/vbaProject.bin": "x"}))


def test_a_workbook_packed_otherwise_says_the_same():
    with zipfile.ZipFile(io.BytesIO(workbook())) as book:
        parts = {name: book.read(name) for name in book.namelist()}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as book:
        for name, body in parts.items():
            book.writestr(name, body)
    assert out.getvalue() != workbook()
    assert difference("a.xlsx", out.getvalue(), workbook()) == ""


def packed_by_lzma() -> bytes:
    """A workbook whose parts are packed in a way that no package uses, and damaged."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_LZMA) as book:
        book.writestr("xl/workbook.xml", "<x/>" * 99)
    raw = bytearray(out.getvalue())
    start = raw.index(b"xl/workbook.xml") + len("xl/workbook.xml")
    raw[start + 9 : start + 30] = bytes(range(200, 221))
    return bytes(raw)


@pytest.mark.parametrize("count", ["²", "٣", "9" * 5000])
def test_what_only_looks_like_a_number_is_a_text(count):
    cell = f'<c r="A1" t="s"><v>{count}</v></c>'
    sheet = f'<worksheet xmlns="{SPACE}"><sheetData><row>{cell}</row></sheetData></worksheet>'
    assert ("Doses!A1", count) in pieces("a.xlsx", workbook(**{"xl/worksheets/sheet1.xml": sheet}))
    assert pieces("a.ipynb", json.dumps({"cells": {count: "x"}}).encode())


@pytest.mark.parametrize(
    ("name", "raw", "said"),
    [
        ("a.pdf", b"hello", "as a PDF"),
        ("a.xlsx", b"PK\x03\x04", "as a workbook"),
        ("a.xlsx", workbook(**{"xl/workbook.xml": "<"}), "as a workbook"),
        ("a.ipynb", b"{", "as JSON"),
        ("a.ipynb", b'{"cells": [], "cells": []}', "it says 'cells' twice"),
        ("a.ipynb", b"[1]", "no JSON object"),
        ("a.html", b'<img src="data:image/svg+xml;base64,a">', "as a page of HTML"),
        ("a.xlsx", packed_by_lzma(), "as a workbook"),
        ("a.xlsx", workbook(**{"xl/worksheets/sheet1.xml": "<a>" * 200_000}), "as a workbook"),
    ],
)
def test_what_cannot_be_read_is_told(name, raw, said):
    with pytest.raises(PackageError, match=said):
        pieces(name, raw)
