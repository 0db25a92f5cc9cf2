"""What an independent reader finds in the PDFs: structure, language, alternatives, fonts, metadata, colour.

PDF/A: pikepdf.pdfa judges by the rules of veraPDF's profile for PDF/A-3b, as far as it knows them; it lets through only
what it knows, so that what it refuses is looked at one by one below. Level A adds the tags, and PDF/UA-1 what they have
to hold: read here from the file's objects, by clause of ISO 14289-1. qpdf reads the syntax of the whole file.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pikepdf
import pytest
from documents import sample
from pikepdf import pdfa

from calc.package.document.pdf import write_pdf

# What pikepdf.pdfa does not know, and why it is no fault.
UNKNOWN = {
    "extension schemas, which 6.6.2.3.2 allows and in which PDF/UA's own mark has to be declared": re.compile(
        r"XMP (namespace|property) pdfa(Extension|Schema|Property)\b|XMP property pdfuaid:part is not permitted"
    ),
    "a schema that the XMP specification itself has": re.compile(r"XMP (namespace|property) xmpTPg\b"),
    "level A, since it judges level B": re.compile(r"pdfaid:conformance is 'A', expected 'B'"),
    "a destination that is an object of its own": re.compile(
        r"'\d+ \d+ R' is not valid under any of the given schemas"
    ),
}
# What it says that it does not look at.
NOT_LOOKED_AT = re.compile(
    r"CFF FDArray FontMatrix|/CIDSet on a CIDFontType2 subset|structured XMP property xmpMM:History"
)
TEXTS = ["Words", "外墙植筋 壁の 벽체", "קיר צפוני 3: 24 holes", "قضبان التسليح", "Αγκύρια Zażółć ığüşöç", "😀 ✓"]


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("standards") / "a.pdf"
    write_pdf(sample(texts=TEXTS), path, {"results.json": b"{}", "job.toml": b"a = 1"})
    return path


@pytest.fixture(scope="module")
def opened(file):
    with pikepdf.open(file) as found:
        yield found


def elements(node):
    """Every structure element, with its parent's kind."""
    waiting = [(node, "")]
    while waiting:
        here, above = waiting.pop()
        kind = str(here.get("/S", "")).lstrip("/")
        if kind:
            yield here, kind, above
        below = here.get("/K", [])
        for one in below if isinstance(below, pikepdf.Array) else [below]:
            if isinstance(one, pikepdf.Dictionary) and one.get("/Type") not in ("/MCR", "/OBJR"):
                waiting.append((one, kind))


def test_the_profile_of_pdf_a_3b_refuses_nothing_that_it_knows(file):
    report = pdfa.validate_written(file, "3b")
    unknown = [one for one in report.findings if one.kind == "violation"]
    assert [one for one in unknown if not any(rule.search(one.message) for rule in UNKNOWN.values())] == []
    assert [one for one in report.findings if one.kind != "violation" and not NOT_LOOKED_AT.search(one.message)] == []
    assert report.output_intent == "RGB"


def test_qpdf_finds_the_syntax_whole_and_objects_packed(file, opened):
    assert opened.check_pdf_syntax() == []
    assert b"/ObjStm" in file.read_bytes()
    assert not opened.is_encrypted


def test_metadata_name_the_standards_title_and_language(opened):
    with opened.open_metadata() as meta:
        assert (meta["pdfaid:part"], meta["pdfaid:conformance"], meta["pdfuaid:part"]) == ("3", "A", "1")
        assert meta["dc:title"] == "Dowels"
    root = opened.Root
    assert root.Lang == "en"
    assert bool(root.MarkInfo.Marked)
    assert bool(root.ViewerPreferences.DisplayDocTitle)
    assert [str(one.S) for one in root.OutputIntents] == ["/GTS_PDFA1"]
    assert {str(one.AFRelationship) for one in root.AF} == {"/Data", "/Source"}
    assert set(opened.attachments) == {"results.json", "job.toml"}


def test_everything_that_is_drawn_is_tagged_or_named_an_artifact(opened):
    depth, loose = 0, Counter()
    for number, page in enumerate(opened.pages):
        assert page.Tabs == "/S"
        for operands, operator in pikepdf.parse_content_stream(page):
            word = str(operator)
            if word in ("BDC", "BMC"):
                depth += 1
            elif word == "EMC":
                depth -= 1
            elif word in ("Tj", "TJ", "Do", "f", "f*", "S", "s", "B", "sh") and not depth:
                loose[number] += 1
            assert operands is not None
        assert depth == 0
    assert not loose


def test_the_tags_hold_what_a_reader_needs(opened):
    tree = [*elements(opened.Root.StructTreeRoot)]
    kinds = Counter(kind for _, kind, _ in tree)
    assert {"Document", "H1", "H2", "P", "Table", "TR", "TH", "TD", "L", "LI", "LBody", "Figure", "Formula"} <= set(
        kinds
    )
    assert kinds["H1"] == 1
    levels = [int(kind[1]) for _, kind, _ in tree[::-1] if re.fullmatch(r"H\d", kind)]
    assert levels
    for element, kind, above in tree:
        if kind in ("Figure", "Formula"):
            assert str(element.Alt).strip()
        if kind in ("TH", "TD"):
            assert above == "TR"
        if kind == "TH":
            attributes = element.A if isinstance(element.A, pikepdf.Array) else [element.A]
            assert any(one.get("/Scope") in ("/Column", "/Row", "/Both") for one in attributes)
        if kind == "LI":
            assert above == "L"
    languages = {str(element.Lang) for element, _, _ in tree if "/Lang" in element}
    languages |= {
        str(operands[1].Lang)
        for page in opened.pages
        for operands, operator in pikepdf.parse_content_stream(page)
        if str(operator) == "BDC" and isinstance(operands[1], pikepdf.Dictionary) and "/Lang" in operands[1]
    }
    assert languages == {"en", "he", "ar", "ko", "ja"}


def test_links_say_where_they_lead_and_stand_in_the_tags(opened):
    links = [note for page in opened.pages for note in page.get("/Annots", []) if note.Subtype == "/Link"]
    assert links
    assert all("/StructParent" in note and str(note.get("/Contents", "")).strip() for note in links)


def test_every_font_is_embedded_cut_and_can_be_read_as_text(opened):
    fonts = {
        str(font.BaseFont): font
        for page in opened.pages
        for font in page.Resources.get("/Font", pikepdf.Dictionary()).values()
    }
    assert any("NotoSansCJK" in name for name in fonts)
    for name, font in fonts.items():
        assert re.match(r"/[A-Z]{6}\+", name), "not a subset"
        assert "/ToUnicode" in font
        program = font.DescendantFonts[0].FontDescriptor
        assert any(key in program for key in ("/FontFile2", "/FontFile3"))


def test_the_same_document_gives_the_same_bytes(file, tmp_path: Path):
    write_pdf(sample(texts=TEXTS), tmp_path / "b.pdf", {"results.json": b"{}", "job.toml": b"a = 1"})
    assert (tmp_path / "b.pdf").read_bytes() == file.read_bytes()
