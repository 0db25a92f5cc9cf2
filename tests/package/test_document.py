"""The document: everything that a user wrote is shown as text and runs nowhere.

And nothing is lost on the way to PDF and HTML.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from documents import LATEX, check, sample, step, table

from calc.base.sheet import Joined, Notice
from calc.package.document import markup
from calc.package.document.document import view
from calc.package.document.front import OUTSIDE, brief, front_view
from calc.package.document.html import write_html
from calc.package.document.numbering import Equations, Places
from calc.package.document.parts import INVENTED, Document, Front, Section
from calc.package.document.pdf import write_pdf
from calc.package.document.wording import check_row, check_rows, count_line
from calc.work.results import gathered

HOSTILE = [
    "#set page(width: 1pt)",
    "#read(data.json)",
    "$x$ and $$y$$",
    "<script>alert(1)</script>",
    r"\input{/etc/passwd}",
    "*bold* _it_ `code` [link](javascript:alert(1))",
    "=HYPERLINK(1)",
    "$(rm -rf /)",
    "{{ 7*7 }} {% raw %}",
    "\"] ] } ' */ --> </style>",
    "@label <label> // comment /* open",
]


class Reader(HTMLParser):
    """Counts what the tests ask for."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.levels: list[int] = []
        self.words: list[str] = []
        self._style = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._style = tag == "style"
        if re.fullmatch(r"h[1-6]", tag):
            self.levels.append(int(tag[1]))

    def handle_endtag(self, tag: str) -> None:
        self._style = False

    def handle_data(self, data: str) -> None:
        if not self._style:
            self.words.append(data)


def read_html(path: Path) -> tuple[Reader, str]:
    text = path.read_text(encoding="utf-8")
    reader = Reader()
    reader.feed(text)
    return reader, text


def pdf_text(path: Path, layout: str = "-layout") -> str:
    if shutil.which("pdftotext") is None:
        pytest.fail("pdftotext (poppler) is needed to read the PDF: apt-get install poppler-utils")
    return subprocess.run(["pdftotext", layout, str(path), "-"], capture_output=True, check=True).stdout.decode("utf-8")


def squeezed(text: str) -> str:
    """Without white space and break marks: what stands on the paper, wherever its lines break."""
    return re.sub(r"[\s\u200e\u202a-\u202e\u2066-\u2069\u00ad]+", "", text)


def test_pdf_has_pages_standards_and_attachments(tmp_path: Path) -> None:
    path = tmp_path / "calculation.pdf"
    pages = write_pdf(sample(), path, {"results.json": b"{}", "job.toml": b"a = 1"})
    text = pdf_text(path)
    body = path.read_bytes()
    for number in range(1, pages + 1):
        assert f"page {number} of {pages}" in text
    assert text.count("results 3fa9c1d2e4b5") == pages
    assert text.count(INVENTED) == pages
    assert text.count("Job D-101 · revision B") == pages
    assert re.search(rb"pdfaid:part>3<.*?pdfaid:conformance>A<", body, re.DOTALL)
    assert b"pdfuaid:part>1<" in body
    names = subprocess.run(["pdfdetach", "-list", str(path)], capture_output=True, check=True).stdout.decode()
    assert "2 embedded files" in names
    assert "results.json" in names
    assert [entry.name for entry in tmp_path.iterdir()] == ["calculation.pdf"]


def test_pdf_has_one_first_heading(tmp_path: Path) -> None:
    path = tmp_path / "calculation.pdf"
    write_pdf(sample(), path, {})
    tree = subprocess.run(["pdfinfo", "-struct", str(path)], capture_output=True, check=True).stdout.decode(
        "utf-8", "replace"
    )
    assert len(re.findall(r"^\s*H1\b", tree, re.MULTILINE)) == 1
    assert tree.count("H2") > 3


def test_same_document_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_pdf(sample(), tmp_path / f"{name}.pdf", {"results.json": b"{}"})
        write_html(sample(), tmp_path / f"{name}.html")
    assert (tmp_path / "one.pdf").read_bytes() == (tmp_path / "two.pdf").read_bytes()
    assert (tmp_path / "one.html").read_bytes() == (tmp_path / "two.html").read_bytes()


def test_hostile_text_is_text_in_the_pdf(tmp_path: Path) -> None:
    path = tmp_path / "calculation.pdf"
    write_pdf(sample(texts=HOSTILE, title=HOSTILE[0]), path, {})
    text = squeezed(pdf_text(path))
    for words in HOSTILE:
        assert text.count(squeezed(words)) >= 5, words


def test_hostile_text_is_text_in_the_html(tmp_path: Path) -> None:
    path = tmp_path / "calculation.html"
    write_html(sample(texts=HOSTILE, title=HOSTILE[3]), path)
    reader, _ = read_html(path)
    text = squeezed("".join(reader.words))
    for words in HOSTILE:
        assert text.count(squeezed(words)) >= 5, words
    assert not [tag for tag, _ in reader.tags if tag in ("script", "iframe", "object", "link", "base", "form")]
    assert not [key for _, attributes in reader.tags for key in attributes if key.startswith("on")]


def test_hostile_markdown_runs_nowhere(tmp_path: Path) -> None:
    bad = "\n\n".join(
        [
            *HOSTILE,
            "![alt](http://example.invalid/x.png)",
            "`<b>`{=html}",
            "<img src=x onerror=alert(1)>",
            "```\nopen fence",
        ]
    )
    paragraph = Section(
        "Part", ({"kind": "prose", "markdown": bad}, {"kind": "prose", "markdown": "The words after it."})
    )
    document = Document("T", {"number": "1", "revision": "A", "date": "2026-11-25"}, None, (paragraph,), "s")
    write_html(document, tmp_path / "a.html")
    write_pdf(document, tmp_path / "a.pdf", {})
    reader, text = read_html(tmp_path / "a.html")
    assert not [tag for tag, _ in reader.tags if tag in ("script", "img")]
    assert not [
        value
        for _, attributes in reader.tags
        for value in attributes.values()
        if value and value.startswith("javascript")
    ]
    assert "example.invalid" not in text
    assert "<p>The words after it.</p>" in text
    written = squeezed(pdf_text(tmp_path / "a.pdf"))
    assert squeezed("<script>alert(1)</script>") in written
    assert squeezed("The words after it.") in written


@pytest.mark.parametrize(
    "title", ["word " * 400, "x" * 2000, "😀 שלום مرحبا 漢字 \u202eturned\u202c \x00\ufffe", "", "Ω ≤ ½ ✓ é"]
)
def test_odd_titles(tmp_path: Path, title: str) -> None:
    document = sample(texts=[title], title=title or "Untitled")
    assert write_pdf(document, tmp_path / "a.pdf", {}) >= 2
    write_html(document, tmp_path / "a.html")
    written = squeezed(pdf_text(tmp_path / "a.pdf"))
    if title.isascii():
        assert squeezed(title) in written.replace(squeezed("Job D-101 · revision B"), "")
    else:
        assert set(re.findall(r"\[U\+\w+\]", written)) <= {"[U+202E]", "[U+202C]", "[U+0000]", "[U+FFFE]", "[U+0E01]"}
        for letter in "😀שΩ½✓é漢":
            assert (letter in title) <= (letter in written)


def test_html_stands_alone(tmp_path: Path) -> None:
    path = tmp_path / "calculation.html"
    document = sample()
    write_html(document, path)
    reader, text = read_html(path)
    tags = [tag for tag, _ in reader.tags]
    assert tags.count("h1") == 1
    assert tags.count("main") == 1
    assert "http" not in text.replace("http-equiv", "")
    assert all(low - high <= 1 for high, low in zip(reader.levels, reader.levels[1:], strict=False)), reader.levels
    for tag, attributes in reader.tags:
        if tag == "img":
            assert attributes["alt"]
            assert str(attributes["src"]).startswith("data:")
        if tag == "th":
            assert attributes.get("scope") in ("row", "col")
    assert {"01.B1.annular_volume", "01.B1.dose"} <= set(reader.words)
    assert tags.count("math") == 8  # two in the prose; equation, symbol and one input of each of two steps
    identities = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]
    assert len(identities) == len(set(identities))
    targets = [str(attributes["href"])[1:] for tag, attributes in reader.tags if tag == "a"]
    assert set(targets) <= set(identities)


def test_a_step_links_to_the_step_that_it_uses() -> None:
    shown = view(sample())
    first, second = shown["sections"][0]["blocks"][1]["steps"]
    assert second["inputs"][0]["origin"] == "step 1.1"
    assert second["inputs"][0]["target"] == first["anchor"]


def test_doubled_step_id_is_linked_once(tmp_path: Path) -> None:
    blocks = ({"kind": "steps", "title": "", "steps": [step("a"), step("a")]},)
    document = Document("T", {"number": "1", "revision": "A", "date": ""}, None, (Section("S", blocks),), "s")
    assert write_pdf(document, tmp_path / "a.pdf", {}) == 1


def test_unknown_latex_is_shown_as_text(tmp_path: Path) -> None:
    blocks = ({"kind": "steps", "title": "", "steps": [step("a", latex=r"\unknowncommand{x} #read $ y")]},)
    document = Document("T", {"number": "1", "revision": "A", "date": "2026-11-25"}, None, (Section("S", blocks),), "s")
    write_pdf(document, tmp_path / "a.pdf", {})
    write_html(document, tmp_path / "a.html")
    assert r"\unknowncommand{x}" in pdf_text(tmp_path / "a.pdf")
    assert r"\unknowncommand{x}" in (tmp_path / "a.html").read_text(encoding="utf-8")


def test_a_step_longer_than_a_page_is_broken_and_not_cut_off(tmp_path: Path) -> None:
    notice = "long words " * 900 + "the very end"
    identity = "03.B1." + "a_rather_long_name_" * 4
    blocks = (
        {"kind": "steps", "title": "", "steps": [step(identity, notices=[notice], label="y" * 300, shown="z" * 300)]},
    )
    document = Document("T", {"number": "1", "revision": "A", "date": "2026-11-25"}, None, (Section("S", blocks),), "s")
    assert write_pdf(document, tmp_path / "a.pdf", {}) >= 2
    written = pdf_text(tmp_path / "a.pdf")
    assert "the very end" in " ".join(written.split())
    assert identity in written  # to be found by a search, so without any break marks
    assert written.count("y") >= 300
    assert written.count("z") >= 300


def test_failed_checks_come_first_and_are_counted() -> None:
    bad, none = (
        check(title="bad", utilisation=1.0004, verdict="fails"),
        check(title="none", utilisation=None, verdict="fails"),
    )
    rows = check_rows([check(title="good"), bad, none])
    assert [row["title"] for row in rows] == ["bad", "none", "good"]
    assert rows[0]["utilisation"] == "1.01"
    assert rows[1]["utilisation"] == "–"
    assert rows[0]["verdict"] == "✗ FAILS"
    assert count_line(rows) == "1 of 3 checks pass; 2 fail."
    assert count_line(rows[2:]) == "1 of 1 check passes."
    assert check_row(check(verdict="yes"))["passes"] is False
    owed = check_rows([check(), check(verdict="owed", title="lacking"), check(verdict="fails")])
    assert [row["verdict"] for row in owed] == ["✗ FAILS", "○ owed", "✓ passes"]
    assert count_line(owed) == "1 of 3 checks pass; 1 fails; 1 is owed."


def test_long_tables_flow_and_repeat_their_header(tmp_path: Path) -> None:
    names = ["Mark", *[f"Quantity {number} [mm]" for number in range(13)]]
    rows = [[f"B{row}", *[f"{row}.{column:03d}" for column in range(13)]] for row in range(300)]
    block = {"kind": "table", "caption": "All groups", "columns": names, "rows": rows, "align": "l" + "r" * 13}
    document = Document(
        "T", {"number": "1", "revision": "A", "date": "2026-11-25"}, None, (Section("S", (block,)),), "s"
    )
    pages = write_pdf(document, tmp_path / "a.pdf", {})
    text = pdf_text(tmp_path / "a.pdf")
    assert pages > 3
    assert text.count("Mark") == pages
    words = set(text.split())
    assert not [cell for row in rows for cell in row if cell not in words]


def test_wrong_blocks_are_refused() -> None:
    job = {"number": "1", "revision": "A"}
    with pytest.raises(ValueError, match="unknown kind of block 'song'"):
        view(Document("T", job, None, (Section("S", ({"kind": "song"},)),), "s"))
    with pytest.raises(ValueError, match="a row has 1 cells, the table has 2 columns"):
        view(Document("T", job, None, (Section("S", (table([["B1"]]),)),), "s"))


def test_numbers_of_a_check_are_rounded_by_their_kind() -> None:
    row = check_row(check(demand=62.8319, resistance=None, unit="kN", utilisation=0.9012))
    assert (row["demand"], row["resistance"], row["utilisation"]) == ("62.8\u00a0kN", "–", "0.91")
    late = check_row(check(demand=32.63, resistance="not known", unit="min", utilisation=None))
    assert (late["demand"], late["resistance"], late["utilisation"]) == ("33\u00a0min", "not known", "–")
    assert check_row(check(demand=float("nan")))["demand"] == "not known"


def many_checks(count: int, failing: int = 0) -> list[dict[str, object]]:
    return [
        check(
            id=f"0{1 + number % 3}.G{number // 6}.kind{number % 6}",
            notebook=f"0{1 + number % 3}_x",
            mark=f"G{number // 6}",
            name=f"kind{number % 6}",
            title=f"G{number // 6} (ø16): check of the kind {number % 6}",
            utilisation=1.25 if number < failing else 0.3 + number % 60 / 100,
            verdict="passes" if number >= failing else "fails",
            reason="demand exceeds resistance; drill a larger hole" if number < failing else "",
        )
        for number in range(count)
    ]


@pytest.mark.parametrize(("count", "failing"), [(15, 0), (15, 15), (61, 1), (100, 40), (1800, 700)])
def test_page_one_is_one_page_with_any_number_of_checks(tmp_path: Path, count: int, failing: int) -> None:
    rows = [[f"G{number}", f"{number}.5"] for number in range(max(count // 6, 3))]
    notices = [
        f"existing steel lies in the way of drill {number}. Locate it before drilling; this is the long part of the"
        " notice."
        for number in range(20)
    ]
    cautions = [
        f"Caution {number}: something to mind that takes a line or so when it is printed. More of it here."
        for number in range(8)
    ]
    told = [Joined((f"G{number}",), text) for number, text in enumerate(notices)]
    front = Front(
        "How much?",
        table(rows),
        ("Dose for each hole: many.",),
        many_checks(count, failing),
        told,
        cautions,
        ["Packs and mixers."],
    )
    document = Document("Dowels", {"number": "1", "revision": "A", "date": "2026-11-25"}, front, (), "s")
    write_pdf(document, tmp_path / "a.pdf", {})
    first = pdf_text(tmp_path / "a.pdf").split("\f")[0]
    for words in (
        "Answer",
        "Checks",
        "Open",
        "Not covered",
        "Sign-off",
        "Seal",
        "Prepared",
        "Approved",
        "Signature",
    ):
        assert words in first, words
    assert f"{count - failing} of {count}" in first
    assert ("✗ FAILS" in first) == (failing > 0)
    whole = squeezed(pdf_text(tmp_path / "a.pdf", "-nopgbrk"))  # two columns, read one after the other
    for item in [*notices, *cautions]:
        assert squeezed(item) in whole, item
    assert re.search(r"checks, cautions and notices, page \d", first)


def test_the_governing_check_is_on_page_one(tmp_path: Path) -> None:
    special = check(
        id="02.G7.special",
        notebook="02_x",
        mark="G7",
        name="special",
        title="G7 (ø16): the one that governs",
        utilisation=0.987,
    )
    checks = [*many_checks(99), special]
    front = Front("How much?", table([["G7", "1"]]), (), checks, [], [], [])
    document = Document("Dowels", {"number": "1", "revision": "A", "date": "2026-11-25"}, front, (), "s")
    write_pdf(document, tmp_path / "a.pdf", {})
    first = pdf_text(tmp_path / "a.pdf").split("\f")[0]
    assert re.search(r"the one that governs .*0\.99 .*passes", first)


def test_notices_of_many_groups_are_said_once_in_brief() -> None:
    items = [
        Joined((mark,), f"Existing steel is near. Locate it, {number} in 100 would meet one.")
        for number, mark in enumerate(("A", "B.1", "C"))
    ]
    assert brief([*items, Joined((), "Overfill 15 %.")]) == ["A, B.1, C: Existing steel is near.", "Overfill 15 %."]


def test_tables_and_figures_have_the_same_numbers_in_both(tmp_path: Path) -> None:
    write_pdf(sample(), tmp_path / "a.pdf", {})
    write_html(sample(), tmp_path / "a.html")
    paper = " ".join(pdf_text(tmp_path / "a.pdf").split())
    screen = " ".join("".join(read_html(tmp_path / "a.html")[0].words).split())
    for words in ("Table 1: Dose per hole", "Table 2: Dose per hole", "Figure 1: Plain words"):
        assert words in paper
        assert words in screen
    assert set(re.findall(r"(?:Table|Figure) \d+:", paper)) == set(re.findall(r"(?:Table|Figure) \d+:", screen))


def test_the_pdf_has_bookmarks(tmp_path: Path) -> None:
    write_pdf(sample(), tmp_path / "a.pdf", {})
    made = subprocess.run(
        ["pdftohtml", "-xml", "-i", "-stdout", str(tmp_path / "a.pdf")], capture_output=True, check=True
    ).stdout.decode()
    titles = re.findall(r'<item page="\d+">(.*?)</item>', made)
    assert titles[0] == "Dowels"
    for words in ("Answer", "Checks", "Open", "Sign-off", "Group B1"):
        assert words in titles, titles
    assert any("Dose per hole" in title for title in titles)


def test_equations_are_converted_once_and_together() -> None:
    done = markup.convert_all([LATEX, "V_{a}", LATEX, r"\nonsense{x}"])
    assert len(done) == 3
    assert done["V_{a}"] == ("V_a", '<math display="block"><msub><mi>V</mi><mi>a</mi></msub></math>')
    assert done[r"\nonsense{x}"] == (None, None)
    assert markup.convert_all([]) == {}


def test_notices_that_differ_in_a_share_alone_are_joined():
    def one(mark, text, share=None):
        return Notice("04_embedment", mark, "steel", text, share)

    met = [one(mark, "{share} in 100 meet one.", share) for mark, share in (("A", 19), ("B", 37), ("C", 21))]
    found = gathered([*met, one("D", "Other."), one(None, "20 in 100 of all.")])
    assert [joined.words for joined in found] == [
        "A, B, C: 19 to 37 in 100 meet one.",
        "D: Other.",
        "20 in 100 of all.",
    ]
    assert [joined.words for joined in gathered([met[0], one("B", "{share} in 100 meet one.", 19)])] == [
        "A, B: 19 in 100 meet one."
    ]
    assert met[1].words == "B: 37 in 100 meet one."


def test_ten_thousand_characters_are_cut_on_page_one_and_stand_in_full_behind(tmp_path: Path) -> None:
    title = ("👩\u200d🔧 pier ten " * 800)[:10_000]
    document = sample(title=title)
    job = dict(document.job) | {
        "title": title,
        "prepared_by": "A. Person " * 19,
        "checked_by": "B. Person " * 19,
        "site": "far away " * 20,
    }
    write_pdf(replace(document, job=job), tmp_path / "long.pdf", {})
    pages = subprocess.run(
        ["pdftotext", tmp_path / "long.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout.split("\f")
    assert "Approved" in pages[0]
    assert "Texts that page 1 cuts short" in "".join(pages)
    assert squeezed("".join(pages)).count("pierten") >= title.count("pier ten")


def test_page_one_says_what_is_owed_and_who_answers_for_what_is_not_judged(tmp_path: Path) -> None:
    """However much fails: one that is owed, the keys that close it.

    And every reference in full, on one page with the sign-off.
    """
    owed = [
        check(
            id=f"04.H{number}.force_path",
            notebook="04_x",
            mark=f"H{number}",
            name="force_path",
            title=f"H{number} (ø16): what takes the force",
            demand=None,
            resistance=None,
            utilisation=None,
            verdict="owed",
            reason="missing: force_path",
            missing=["force_path", "edge"],
        )
        for number in range(9)
    ]
    text = (
        "not judged here: the member's own truss and links take the force. Reference: strut and tie model 12, N. Name,"
        " sheet 4."
    )
    outside = [Joined((f"K{number}",), text) for number in range(3)]
    rows = [[f"G{number}", f"{number}.5"] for number in range(20)]
    told = [Joined((f"G{number}",), f"something to know about hole {number}.") for number in range(20)]
    front = Front(
        "How much?", table(rows), ("Doses.",), [*many_checks(120, 60), *owed], told, ["Care."] * 3, ["Packs."], outside
    )
    view = front_view(Document("Dowels", {}, front, (), "s"), front, Places(), Equations())
    assert view["failed"][1]["owed"]
    assert view["count"] == "60 of 129 checks pass; 60 fail; 9 are owed."
    assert view["open"][0] == {"title": "Owed", "items": ["Owed for want of: force_path, edge."]}
    assert view["open"][1]["title"] == OUTSIDE
    write_pdf(
        Document("Dowels", {"number": "1", "revision": "A", "date": "2026-11-25"}, front, (), "s"),
        tmp_path / "a.pdf",
        {},
    )
    first = pdf_text(tmp_path / "a.pdf").split("\f")[0]
    for words in ("○ owed", "✗ FAILS", "Owed for want of", "Not judged here", "Sign-off", "Signature"):
        assert words in first, words
    assert squeezed(text) in squeezed(first)
