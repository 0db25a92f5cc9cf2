"""A PDF read back: against an independent reader, packed in another way, and damaged."""

import shutil
import subprocess
import zlib
from collections import Counter
from pathlib import Path

import pytest

from calc.package.document.parts import Document, Section
from calc.package.document.pdf import write_pdf
from calc.package.document.pdftext import PdfError, attached_files, read_pdf

SAMPLE = Path(__file__).parents[2] / "exports" / "sample" / "calculation.pdf"


@pytest.fixture(scope="module")
def sample():
    return read_pdf(SAMPLE.read_bytes())


def test_the_words_are_those_that_poppler_reads(sample):
    assert shutil.which("pdftotext"), "poppler-utils is needed for this test"
    done = subprocess.run(["pdftotext", "-raw", SAMPLE, "-"], capture_output=True, check=True).stdout.decode()
    pages = done.rstrip("\f").split("\f")
    assert len(sample.pages) == len(pages)
    # Letter by letter, since the two readers do not agree where a formula has a space.
    for page, text in zip(sample.pages[:40], pages[:40], strict=True):
        ours, theirs = (Counter("".join(words.split())) for words in (" ".join(page.lines), text))
        assert sum((ours - theirs).values()) + sum((theirs - ours).values()) <= 0.02 * sum(theirs.values())


def test_attached_files_are_given_as_they_were_put_in(sample, tmp_path):
    subprocess.run(["pdfdetach", "-saveall", "-o", tmp_path, SAMPLE], check=True, capture_output=True)
    assert sample.attached == {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert sample.attached["results.json"].startswith(b'{\n "schema"')


def small(words: bytes, *, packed: bool, drawn: bytes = b"0 0 m 9 9 l S") -> bytes:
    """A PDF of one page, its objects one by one or in an object stream."""
    body = b"/F 9 Tf q 1 0 0 1 5 7 cm BT (" + words + b") Tj ET BT [<0042> 9 (\\000C)] TJ ET Q " + drawn
    letters = b"1 beginbfrange <0041> <0043> <0061> endbfrange 1 beginbfchar <0028> <00DF> endbfchar"
    plain = [
        (1, b"<</Type/Catalog/Pages 2 0 R>>"),
        (2, b"<</Kids[3 0 R]/Resources<</Font<</F 4 0 R>>>>>>"),
        (3, b"<</Contents 5 0 R>>"),
        (4, b"<</ToUnicode 6 0 R>>"),
    ]
    streams = [(5, b"", body), (6, b"", letters)]
    if packed:
        head = b"".join(b"%d %d " % (n, sum(len(o) + 1 for _, o in plain[:i])) for i, (n, _) in enumerate(plain))
        about = b"/Type/ObjStm/N %d/First %d" % (len(plain), len(head))
        streams.append((7, about, head + b" ".join(o for _, o in plain)))
        plain = []
    written = [b"%d 0 obj\n%s\nendobj\n" % one for one in plain]
    for number, about, content in streams:
        raw = zlib.compress(content)
        head = b"%d 0 obj\n<</Length %d/Filter/FlateDecode%s>>" % (number, len(raw), about)
        written.append(head + b"\nstream\n" + raw + b"\nendstream\nendobj\n")
    return b"%PDF-1.7\n" + b"".join(written) + b"trailer"


@pytest.mark.parametrize("packed", [False, True])
def test_words_and_what_is_drawn_are_told_apart(packed):
    (page,) = read_pdf(small(rb"\000A\000\(\000B", packed=packed)).pages
    assert page.lines == ("aßb bc",)
    (other,) = read_pdf(small(rb"\000B", packed=packed)).pages
    assert other.lines == ("b bc",)
    assert other.drawn == page.drawn
    (line,) = read_pdf(small(rb"\000A\000\(\000B", packed=packed, drawn=b"0 0 m 9 8 l S")).pages
    assert (line.lines, line.drawn != page.drawn) == (page.lines, True)


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"hello", "does not begin"),
        (b"%PDF-1.7\nhello", "no list of its pages"),
        (small(b"x", packed=False) + b"<</Encrypt 9 0 R>>", "encrypted"),
        (b"%PDF-1.7\n1 0 obj <</Type/Catalog/Pages " + b"[" * 99 + b">> endobj", "nested"),
        (b"%PDF-1.7\n1 0 obj <</Type/Catalog/Pages [", "ends within"),
        (small(b"x", packed=True).replace(b"stream\nx", b"stream\ny"), "cannot be unpacked"),
    ],
)
def test_what_cannot_be_read_is_told(raw, why):
    with pytest.raises(PdfError, match=why):
        read_pdf(raw)


def test_rings_end():
    ring = (
        b"%PDF-1.7\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj 2 0 obj<</Kids[2 0 R 3 0 R]>>endobj 3 0 obj 3 0 R endobj"
    )
    assert len(read_pdf(ring).pages) < 100


def objects(*bodies: bytes, streams: dict[int, bytes] | None = None) -> bytes:
    """A PDF of these objects, numbered from 1; those in streams have a content."""
    told = streams or {}
    ended = {number: b"\nstream\n" + body + b"\nendstream" for number, body in told.items()}
    bodies = tuple(
        body.replace(b"LENGTH", b"/Length %d" % len(told.get(number, b""))) for number, body in enumerate(bodies, 1)
    )
    return b"%PDF-1.7\n" + b"".join(
        b"%d 0 obj\n%s\nendobj\n" % (number, body + ended.get(number, b"")) for number, body in enumerate(bodies, 1)
    )


CATALOG = b"<</Type/Catalog/Pages 2 0 R>>"
KIDS = b"<</Kids[3 0 R]/Resources<</Font<</F 5 0 R>>>>>>"


def one_page(drawn: bytes = b"/F 9 Tf", letters: bytes = b"", more: bytes = b"") -> bytes:
    font = (b"<</ToUnicode 6 0 R>>", b"<<LENGTH>>")
    return objects(
        CATALOG, KIDS, b"<</Contents 4 0 R" + more + b">>", b"<<LENGTH>>", *font, streams={4: drawn, 6: letters}
    )


@pytest.mark.parametrize(
    "raw",
    [
        one_page(b"Tf BT (ab) Tj ET"),
        one_page(b"cm BT (ab) Tj ET"),
        one_page(letters=b"1 beginbfchar <0041> [<0042>] endbfchar"),
        one_page(letters=b"1 beginbfrange [<0041>] <0043> <0061> endbfrange"),
        one_page(letters=b"1 beginbfrange <0041> <0043> [[<0061>]] endbfrange"),
        objects(b"<</Type/ObjStm/N 1/First 40LENGTH>>", streams={1: b"1 " + b"9" * 30 + b" " * 99}),
        objects(*(b"<</Type/Catalog/Kids[%d 0 R]/Pages 2 0 R>>" % (number + 2) for number in range(3000))),
    ],
)
def test_what_trips_its_reader_is_told(raw):
    with pytest.raises(PdfError, match="something in it is not what belongs there"):
        read_pdf(raw)


def test_a_font_of_endless_letters_is_refused():
    with pytest.raises(PdfError, match="more than 1048576 letters"):
        read_pdf(one_page(letters=b"beginbfrange " + b"<0000> <ffff> <0000> " * 99 + b"endbfrange"))


def test_what_leads_back_twice_is_read_once():
    """Each of 40 floors led twice to the next: 2 to the 40th pages."""
    page = b"<</Kids[2 0 R 2 0 R 3 0 R]>>"
    assert len(read_pdf(objects(CATALOG, page, b"<<>>")).pages) == 1
    names = b"<</Type/Catalog/Names<</EmbeddedFiles 2 0 R>>>>"
    tree = b"<</Kids[2 0 R 2 0 R]/Names[(a) <</UF(a.txt)/EF<</F 3 0 R>>>>]>>"
    assert attached_files(objects(names, tree, b"<<LENGTH>>", streams={3: b"hello"})) == {"a.txt": b"hello"}


FORM = b"<</Subtype/Form/Resources<</Font<</F 5 0 R>>>>LENGTH>>"


def test_words_of_a_drawing_within_a_drawing_and_of_what_is_laid_over_a_page_are_its_words():
    letters = b"1 beginbfrange <0041> <007A> <0041> endbfrange"
    shown = b"/F 9 Tf BT (" + b"".join(b"\\000" + bytes([sign]) for sign in b"Dose") + b") Tj ET"
    bare = read_pdf(one_page(b"/X Do", letters)).pages[0]
    assert bare.lines == ()
    within = b"<</Subtype/Form/Resources<</XObject<</X 7 0 R/Y 8 0 R>>>>LENGTH>>"
    forms = objects(*(b"null",) * 6, FORM, within, streams={7: shown, 8: b"/X Do"}).partition(b"6 0 obj\nnull\nendobj")[
        2
    ]
    for more in (
        b"/Resources<</XObject<</X 7 0 R>>>>",
        b"/Resources<</XObject<</Y 8 0 R>>>>",
        b"/Annots[<</Subtype/Stamp/AP<</N 7 0 R>>>>]",
        b"/Annots[<</Subtype/FreeText/AP<</N<</On 7 0 R>>>>>>]",
    ):
        raw = one_page(b"/X Do", letters, more) + forms
        (page,) = read_pdf(raw).pages
        assert page.lines[-1] == "Dose"
        assert page.drawn != bare.drawn
    said = {
        b"<</Subtype/Link/A<</S/GoTo/D(x)>>>>": (),
        b"<</Subtype/Link/A<</S/URI/URI(http://x.invalid)>>>>": ("laid over the page, Link: http://x.invalid",),
        b"<</Subtype/FreeText/Contents(9 mL)>>": ("laid over the page, FreeText: 9 mL",),
    }
    for note, lines in said.items():
        (page,) = read_pdf(one_page(b"/X Do", letters, b"/Annots[" + note + b"]")).pages
        assert page.lines == lines
        assert page.drawn != bare.drawn


def test_inputs_of_one_name_in_two_folders_are_both_attached(tmp_path):
    page = Section("Part", ({"kind": "prose", "markdown": "words"},))
    files = {"inputs/S1/holes.csv": b"1", "inputs/P5/holes.csv": b"2", "results.json": b"{}"}
    about = {"number": "A", "revision": "A", "title": "T", "date": "2026-11-25"}
    write_pdf(Document("T", about, None, (page,), "s"), tmp_path / "a.pdf", files)
    attached = attached_files((tmp_path / "a.pdf").read_bytes())
    assert attached == {"S1/holes.csv": b"1", "P5/holes.csv": b"2", "results.json": b"{}"}
