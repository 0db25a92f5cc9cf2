"""A PDF read back: against an independent reader, packed in another way, and damaged."""

import shutil
import subprocess
import zlib
from collections import Counter
from pathlib import Path

import pytest

from calc.package.document.pdftext import PdfError, read_pdf

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
