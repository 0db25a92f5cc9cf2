"""Engineer's notes as files: text as typed, and pictures that hold nothing but a picture, or a sentence."""

import io
import re
import struct
import zlib

import pytest
from picturefiles import JPEG, PNG, SECRET, SVG, exif, picture, texts
from PIL import Image

from calc.files.notes.pictures import PictureError, cleaned


def pixels(body):
    with Image.open(io.BytesIO(body)) as image:
        return image.mode, image.size, image.convert("RGBA").tobytes()


@pytest.mark.parametrize(
    ("ending", "body"),
    [
        (".png", picture("PNG", pnginfo=texts()) + SECRET),
        (".png", picture("PNG", "RGBA", exif=exif())),
        (".png", picture("PNG", "P", pnginfo=texts())),
        (".PNG", picture("PNG", "L", dpi=(300, 300), icc_profile=SECRET)),
        (".jpg", picture("JPEG", exif=exif(), comment=SECRET) + SECRET),
        (".jpeg", picture("JPEG", "L", progressive=True, icc_profile=SECRET)),
    ],
)
def test_what_is_not_seen_is_taken_off(ending, body):
    clean = cleaned(body, ending)
    assert len(clean) < len(body)
    assert SECRET not in clean
    assert pixels(clean) == pixels(body)
    assert cleaned(clean, ending) == clean


@pytest.mark.parametrize("turned", range(1, 9))
def test_a_photograph_stays_upright(turned):
    clean = cleaned(picture("JPEG", exif=exif(turned)), ".jpg")
    with Image.open(io.BytesIO(clean)) as image:
        assert dict(image.getexif()) == ({} if turned == 1 else {0x0112: turned})
    assert cleaned(clean, ".jpg") == clean


def chunk(kind, body=b""):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


@pytest.mark.parametrize(
    ("ending", "body", "said"),
    [
        (".png", b"", "is no PNG"),
        (".png", JPEG, "is no PNG"),
        (".jpg", PNG, "is no JPEG"),
        (".gif", PNG, "is no picture that is taken"),
        (".png", PNG[:-6], "cut short"),
        (".png", PNG[:20] + b"x" + PNG[21:], "damaged"),
        (".png", PNG[:33] + chunk(b"CODE") + PNG[33:], "cannot be left out"),
        (".png", PNG[:33] + chunk(b"IDAT", zlib.compress(b"few")) + chunk(b"IEND"), "pixels cannot be read"),
        (".png", PNG[:8] + chunk(b"IHDR", struct.pack(">IIBBBBB", 60000, 60000, 8, 2, 0, 0, 0)) + PNG[33:], "pixels"),
        (".png", PNG[:8] + chunk(b"IHDR", struct.pack(">IIBBBBB", 7000, 7000, 8, 2, 0, 0, 0)) + PNG[33:], "million"),
        (".jpg", JPEG[:-2], "cut short"),
        (".jpg", JPEG[:40], "cut short"),
        (".jpg", picture("JPEG", "CMYK"), "four colours"),
        (".svg", b"\xff\xfe<", "not UTF-8"),
        (".svg", b"<svg", "cannot be read"),
        (".svg", b"<svg/>", "is no SVG"),
        (".svg", SVG.format("<script>1</script>").encode(), "<script>"),
        (".svg", SVG.format("<foreignObject/>").encode(), "<foreignObject>"),
        (".svg", SVG.format('<image href="data:image/png;base64,"/>').encode(), "<image>"),
        (".svg", SVG.format('<g><animate attributeName="x"/></g>').encode(), "<animate>"),
        (".svg", SVG.format('<rect onclick="a()"/>').encode(), "acts by itself"),
        (".svg", SVG.format('<use href="other.svg#a"/>').encode(), "outside of it"),
        (".svg", SVG.format('<use xlink:href="https://x.invalid/#a"/>').encode(), "outside of it"),
        (".svg", SVG.format('<rect fill="url(https://x.invalid)"/>').encode(), "leads elsewhere"),
        (".svg", SVG.format('<rect style="fill: u\\72l(https://x.invalid)"/>').encode(), "leads elsewhere"),
        (".svg", SVG.format("<style>@import 'x.css';</style>").encode(), "leads elsewhere"),
        (".svg", ("<!DOCTYPE svg [<!ENTITY a 'b'>]>" + SVG.format("&a;")).encode(), "entities"),
        (".svg", SVG.format('<g id="a"><use href="#b"/></g><g id="b"/><use href="#a"/>').encode(), "use others"),
        (".svg", SVG.format("<g>" * 200 + "</g>" * 200).encode(), "without end"),
        (".svg", SVG.format("<g/>" * 20_001).encode(), "more than"),
        (".png", PNG + bytes(9 * 2**20), "larger than"),
    ],
)
def test_what_is_refused_says_why(ending, body, said):
    with pytest.raises(PictureError, match=said):
        cleaned(body, ending)


def test_a_drawing_keeps_its_shapes_and_loses_what_programs_add():
    text = (
        '<?xml version="1.0"?><!-- by --><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/x.dtd">'
        + SVG.format(
            '<metadata>who</metadata><defs><linearGradient id="a"/></defs><rect fill="url(#a)" width="3" height="2"/>'
            '<text xml:space="preserve">5 &lt; 6</text><o:view xmlns:o="urn:o" o:zoom="1"/>'
        )
    )
    clean = cleaned(text.encode(), ".svg").decode()
    assert "who" not in clean
    assert "view" not in clean.replace("viewBox", "")
    assert "5 &lt; 6</text>" in clean
    assert 'fill="url(#a)"' in clean
    assert cleaned(clean.encode(), ".svg").decode() == clean


NOTE = """\
# Seen on 3 May
Water in B, *left side*; <b>pumped</b>.

![The wall](wall.png)
1 > 0
"""


@pytest.fixture
def noted(folder):
    (folder.path / "notes").mkdir()
    folder.write("notes/site.md", NOTE)
    folder.write("notes/wall.png", PNG)
    folder.edit("[schedule]", '[notes]\nfolder = "notes"\n[schedule]')
    return folder


def test_notes_are_read_as_typed(noted):
    job = noted.load()
    (note,) = job.notes
    first, seen, last = note.parts
    assert first == ("# Seen on 3 May", "Water in B, *left side*; <b>pumped</b>.")
    assert (seen.caption, seen.body) == ("The wall", cleaned(PNG, ".png"))
    assert last == ("1 > 0",)
    assert [path.name for path in job.files][-2:] == ["site.md", "wall.png"]
    assert not job.changed
    noted.write("notes/wall.png", JPEG)
    assert job.changed


@pytest.mark.parametrize(
    ("name", "body", "said"),
    [
        ("notes/wall.png", JPEG, "notes/site.md, line 4: 'wall.png' is no PNG"),
        ("notes/site.md", "![a](../adhesive.toml)", "is no plain relative path"),
        ("notes/site.md", "![a](https://x.invalid/a.png)", "is no plain relative path"),
        ("notes/site.md", "![a](gone.png)", "there is no such file"),
        ("notes/site.md", "![a](a.gif)", "is no picture that is taken"),
        ("notes/site.md", "a\0b", r"U\+0000"),
        ("notes/site.md", b"\xff", "not UTF-8"),
        ("notes/site.md", "x" * 50_001, "too long"),
        ("notes/site.md", "![](wall.png)\n\n" * 61, "more than 60 pictures"),
        ("job.toml", 'folder = ".."', "leads out"),
        ("job.toml", 'folder = ""', "leads out"),
        ("job.toml", "folder = 3", "is not a text"),
        ("job.toml", 'folder = "none"', "holds no file"),
    ],
)
def test_a_bad_note_is_told(noted, name, body, said):
    if name == "job.toml":
        noted.edit('folder = "notes"', body)
    else:
        noted.write(name, body)
    assert re.search(said, noted.only())


def test_a_note_has_a_name_of_its_own(noted):
    noted.write("job.md", "x")
    (noted.path / "notes" / "more").mkdir()
    noted.write("notes/more/wall.png", PNG)
    noted.write("notes/site.md", "![](wall.png)\n\n![](more/wall.png)")
    assert "has the name of another input" in noted.only()


def test_a_link_out_of_the_folder_is_refused(noted, tmp_path_factory):
    outside = tmp_path_factory.mktemp("outside") / "a.png"
    outside.write_bytes(PNG)
    (noted.path / "notes" / "wall.png").unlink()
    (noted.path / "notes" / "wall.png").symlink_to(outside)
    assert "by a link" in noted.only()
