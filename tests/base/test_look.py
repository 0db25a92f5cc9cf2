"""The look's one file: each colour means one thing, and what must be told apart can be, on grey paper and by any eye.

Contrast: WCAG 2.2, definitions of relative luminance and contrast ratio, and success criteria 1.4.3 (text, 4.5:1) and
1.4.11 (graphical objects, 3:1). Colour blindness: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, A
physiologically-based model for simulation of color vision deficiency, IEEE Transactions on Visualization and Computer
Graphics 15 (2009) 1291-1298, the matrices of severity 1.0 for linear sRGB. Distance: CIE 1976 L*a*b*, white D65.
"""

import itertools
import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb

import calc
from calc.base.look.tokens import APART, COLOUR, DARK, LETTER, LINE, PICTURE_WIDTH, TOKENS, css_colours

ROOT = Path(calc.__file__).resolve().parent
TEXT, GRAPHIC = 4.5, 3.0  # WCAG 2.2
GREY_STEP = 10.0  # difference of L* that a grey print still shows; common practice, no source
EYE_STEP = 15.0  # distance in L*a*b*, several times one that is just noticed

# severity 1.0
EYES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)


def linear(colour):
    value = np.array(to_rgb(colour))
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def luminance(colour):
    return float(np.dot([0.2126, 0.7152, 0.0722], linear(colour)))


def contrast(one, other):
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def lab(rgb):
    xyz = _XYZ.dot(np.clip(rgb, 0.0, 1.0)) / _XYZ.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def test_the_measures_give_what_is_published():
    assert contrast("#ffffff", "#000000") == pytest.approx(21.0)  # WCAG 2.2, the largest ratio
    assert contrast("#ffffff", "#777777") == pytest.approx(4.48, abs=0.005)  # just below its limit for text
    assert lab(linear("#ffffff")) == pytest.approx([100.0, 0.0, 0.0], abs=0.01)
    assert lab(linear("#ff0000")) == pytest.approx([53.24, 80.09, 67.20], abs=0.02)
    for matrix in EYES.values():  # grey stays grey to every eye
        assert np.sum(matrix, axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=1e-5)


@pytest.mark.parametrize("ground", ["concrete", "fresh", "steel", "paper"])
def test_adhesive_stands_out(ground):
    assert contrast(COLOUR["adhesive"], COLOUR[ground]) >= GRAPHIC


@pytest.mark.parametrize("words", ["ink", "quiet", "adhesive_ink", "failure", "link"])
def test_words_can_be_read(words):
    for ground in ("paper", "shade", "concrete", "fresh", "typed"):
        assert contrast(COLOUR[words], COLOUR[ground]) >= TEXT, ground
    assert contrast(COLOUR["paper"], COLOUR["ink"]) >= TEXT


@pytest.mark.parametrize("words", ["ink", "quiet", "failure", "link"])
def test_words_can_be_read_in_the_dark(words):
    assert min(contrast(DARK[words], DARK[ground]) for ground in ("paper", "shade")) >= TEXT


@pytest.mark.parametrize(("one", "other"), APART)
def test_pairs_survive_a_grey_printer(one, other):
    assert abs(lab(linear(COLOUR[one]))[0] - lab(linear(COLOUR[other]))[0]) >= GREY_STEP


@pytest.mark.parametrize(("eye", "pair"), list(itertools.product(EYES, APART)))
def test_pairs_survive_colour_blindness(eye, pair):
    one, other = (lab(np.array(EYES[eye]).dot(linear(COLOUR[name]))) for name in pair)
    assert float(np.linalg.norm(one - other)) >= EYE_STEP


def test_adhesive_looks_like_nothing_else():
    """No other colour is taken for adhesive, nor one adhesive for another."""
    others = set(COLOUR) - {"adhesive", "adhesive_ink"}
    for matrix in (np.eye(3), *map(np.array, EYES.values())):
        seen = {name: lab(matrix.dot(linear(value))) for name, value in COLOUR.items()}
        assert min(np.linalg.norm(seen["adhesive"] - seen[name]) for name in others) >= EYE_STEP
    assert len(set(COLOUR.values())) == len(COLOUR)


def test_sizes_can_be_read():
    assert min(LETTER.values()) >= 8.0
    assert sorted(LINE.values()) == list(LINE.values())
    assert 150.0 < PICTURE_WIDTH < 210.0


def test_no_colour_is_typed_elsewhere():
    """A colour stands in the file of tokens; whoever draws reads it there."""
    typed = re.compile(r"#[0-9A-Fa-f]{6}\b|#[0-9A-Fa-f]{3}\b(?![0-9A-Za-z])")
    found = []
    for path in sorted(ROOT.rglob("*")):
        if path.suffix not in (".py", ".css", ".js", ".typ", ".j2") or path.parent == TOKENS.parent:
            continue
        lines = path.read_text(encoding="utf-8").splitlines()
        found += [f"{path.relative_to(ROOT)}: {one.strip()}" for one in lines if typed.search(one) and not _bar(one)]
    assert not found


def test_no_width_of_a_line_and_no_size_of_a_letter_is_typed_in_a_figure():
    typed = re.compile(r"(?:linewidth|markeredgewidth|fontsize)(?:=|\": )(?!0[,)}\s])[\d.]+")
    figures = [*(ROOT / "show").rglob("*.py"), ROOT / "review" / "figures.py"]
    assert len(figures) > 20
    assert not [f"{path.name}: {found[0]}" for path in figures for found in typed.finditer(path.read_text("utf-8"))]


def _bar(line):
    """A line that names a US bar, such as #4, and no colour."""
    return not re.search(r"#[0-9A-Fa-f]{6}\b|(?:rgb|fill|color|background|stroke|border|:)\W*#[0-9A-Fa-f]{3}\b", line)


def test_css_has_every_colour():
    text = css_colours("x-")
    assert all(f"--x-{name.replace('_', '-')}: {value};" in text for name, value in COLOUR.items())
