"""The drawing of a joint: it says what the design says, is to scale, the same each time, and nothing in it collides."""

import shutil
import xml.etree.ElementTree as ElementTree

import pytest
from drawnboxes import touching
from matplotlib.figure import Figure
from matplotlib.patches import Circle, FancyArrowPatch, Polygon
from matplotlib.text import Text

from calc.files.job import demo_job
from calc.show.drawing import redraw_bare
from calc.show.embedment.joint import joint_picture
from calc.show.embedment.loadpath import governing_mode
from calc.work.embedment.work import design_job
from calc.work.load import load_job

HEAD = "mark,count,bar,hole_diameter [mm],embedment [mm],overdrill [mm],direction\n"
COMMON = 'strength_from = "drawings"\nbond = "good"\ndrilling = "rotary"\ndrilling_aid = false\n'
SIZES = 'cover = "60 mm"\nspacing = "180 mm"\nmember_thickness = "700 mm"\n'
EN = f'[design]\ncode = "EN 1992-1-1:2004"\nf_ck = "25 MPa"\nf_yk = "500 MPa"\n{COMMON}{SIZES}'
APPROVAL = '[design.approval]\nnumber = "T-1"\npage = "Table 1"\nk_b = 0.9\nalpha_lb = 1.5\ninvented = true\n'
ANCHORAGE = 'use = "anchorage"\nforce = "60 kN"\n'
LAP = 'use = "lap"\nforce = "60 kN"\npercent_lapped = 50\nend_cover = "40 mm"\ngap = "100 mm"\nexisting_bar = "16"\n'
JOINT = 'use = "joint"\nforce_per_length = "250 kN/m"\njoint_width = "300 mm"\nbar_rows = 2\nsurface = "rough"\n'
EXISTING = 'existing_bar = "12"\nexisting_cover = "30 mm"\nexisting_spacing = "100 mm"\n'
AMERICAN = (
    f'[design]\ncode = "ACI 318-19"\nf_c = "4000 psi"\nf_y = "60 ksi"\n{COMMON}cover = "3 in"\nspacing = "8'
    ' in"\nmember_thickness = "28 in"\n'
)
ROW = "A,12,16,20,400,,down"
CASES = {
    "anchorage": (EN + ANCHORAGE + APPROVAL, ROW, "metric"),
    "too short": (EN + ANCHORAGE + APPROVAL, "A,12,16,20,200,,down", "metric"),
    "through": (EN.replace('"700 mm"', '"420 mm"').replace('"60 mm"', '"25 mm"') + ANCHORAGE + APPROVAL, ROW, "metric"),
    "lap": (EN + LAP + APPROVAL, "A,12,16,20,600,,horizontal", "metric"),
    "tight lap": (EN + LAP.replace("100 mm", "20 mm") + APPROVAL, "A,12,16,20,500,,horizontal", "metric"),
    "edge": (EN + 'edge = "90 mm"\n' + ANCHORAGE + APPROVAL, ROW, "metric"),
    "wide": (
        EN.replace('"60 mm"', '"900 mm"').replace("180 mm", "2000 mm").replace("700 mm", "4000 mm")
        + ANCHORAGE
        + APPROVAL,
        ROW,
        "metric",
    ),
    "joint": (EN + JOINT + EXISTING + APPROVAL, "A,12,16,20,600,,down", "metric"),
    "thick bar": (
        EN.replace('"60 mm"', '"120 mm"').replace("180 mm", "260 mm") + ANCHORAGE.replace("60", "500") + APPROVAL,
        "A,12,50,60,600,,overhead",
        "metric",
    ),
    "us lap": (
        AMERICAN + LAP.replace('"16"', '"#5"').replace("100 mm", "2 in").replace("40 mm", "1-1/2 in"),
        "A,12,#5,22,600,,down",
        "us",
    ),
}


@pytest.fixture
def made(tmp_path):
    """Design the one bar group of a job that is put together from its table of strength."""
    demo = demo_job().read_text(encoding="utf-8")
    kept = [
        part
        for part in demo.split("\n[")
        if part.split("]")[0] in ("job", "display", "concrete", "adhesive", "equipment", "schedule")
    ]

    def make(name):
        tables, row, units = CASES[name]
        text = "schema = 1\n[" + "\n[".join(kept) + '\n[overfill]\nshare = 0.1\nreason = "for tests"\n' + tables
        folder = tmp_path / name.replace(" ", "_")
        folder.mkdir()
        (folder / "job.toml").write_text(text.replace('units = "metric"', f'units = "{units}"'), encoding="utf-8")
        (folder / "schedule.csv").write_text(HEAD + row + "\n", encoding="utf-8")
        shutil.copyfile(demo_job().parent / "adhesive.toml", folder / "adhesive.toml")
        return design_job(load_job(folder)).designs[0]

    return make


def demos():
    return [one for units in ("metric", "us") for one in design_job(load_job(demo_job(units))).in_order]


@pytest.mark.parametrize("name", CASES)
def test_alt_text_is_one_sentence_and_the_drawing_stands_alone(made, name):
    one = made(name)
    picture = joint_picture(one)
    assert picture.alt.endswith(".")
    assert picture.alt.count(". ") == 0
    assert ("too short" in picture.alt) is (one.required > one.case.embedment)
    root = ElementTree.fromstring(picture.svg)
    assert (root.attrib["role"], root.attrib["aria-label"]) == ("img", picture.alt)
    for absent in ("metadata", 'href="http'):
        assert absent not in picture.svg
    numbers = dict(picture.numbers)
    assert numbers["embedment of the schedule"] == one.case.display.size(one.case.embedment)
    assert numbers["cover"] == one.case.display.size(one.case["cover"])


def test_what_is_broken_off_is_said(made):
    assert "broken off: member, cover, spacing" in joint_picture(made("wide")).caption
    assert joint_picture(made("anchorage")).caption.endswith("drawn to scale.")


def test_the_numbers_of_a_lap_are_there(made):
    numbers = dict(joint_picture(made("lap")).numbers)
    assert (
        numbers["existing bar"],
        numbers["gap between the lapped bars"],
        numbers["end cover of the existing bar"],
    ) == ("ø16", "100 mm", "40 mm")
    us = dict(joint_picture(made("us lap")).numbers)
    assert (us["existing bar"], us["gap between the lapped bars"], us["spacing"]) == ("#5", "2 in", "8 in")


@pytest.mark.parametrize("name", ["anchorage", "edge", "joint", "thick bar"])
def test_it_is_to_scale(made, name):
    """On the drilled face, diameters and the distance of the bars have the proportions that the design has."""
    one, figure = made(name), Figure()
    joint_picture(one, figure=figure)
    circles = [
        patch
        for patch in figure.axes[0].patches + figure.axes[0].artists
        if isinstance(patch, Circle) and patch.radius > 0.02
    ]
    holes = sorted({round(c.radius, 9) for c in circles})
    scale = holes[-1] * 2 / one.case.hole_diameter
    assert holes[0] * 2 == pytest.approx(one.case.bar.diameter * scale)
    places = sorted({round(c.center[0], 6) for c in circles})
    assert places[1] - places[0] == pytest.approx(one.case["spacing"] * scale, rel=1e-5)
    if name == "joint":  # two rows, each 60 mm and half a bar from its face
        heights = sorted({round(c.center[1], 6) for c in circles})
        assert heights[1] - heights[0] == pytest.approx((300 - 2 * 68) * scale, rel=1e-5)


def test_same_input_same_bytes_on_a_new_and_on_a_used_figure(made):
    one, other, used = made("lap"), made("joint"), Figure()
    first = joint_picture(one)
    joint_picture(other, title="another", figure=used)
    redraw_bare(used)
    assert joint_picture(one, figure=used) == first == joint_picture(one)


@pytest.mark.parametrize("name", CASES)
def test_no_label_covers_another_or_leaves_the_paper(made, name):
    figure = Figure()
    joint_picture(made(name), figure=figure, title="A: a title")
    _apart(figure, at_least=8)


def test_no_label_of_a_demo_covers_another():
    ones = demos()
    assert len(ones) >= 7
    for one in ones:
        figure = Figure()
        joint_picture(one, figure=figure)
        _apart(figure, at_least=8)


def _apart(figure, at_least):
    assert len([text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]) >= at_least
    assert touching(figure) == []


# ---- the load path ----


def test_the_load_path_is_drawn_and_what_governs_is_named():
    """Cone, strut and the named mode: the picture's own words and the check agree."""
    found = {one.case.mark: one for one in demos()}
    for mark, words in (
        ("P5", "anchor; splitting of the concrete governs"),
        ("W3", "strut of the end support"),
        ("A4", "anchor; bond under"),
    ):
        picture = joint_picture(found[mark])
        check = governing_mode(found[mark])
        assert words in picture.alt
        assert f"governs, {check.used}" in dict(picture.numbers)["load path"]
    cone = [patch for patch in _patches(found["P5"]) if isinstance(patch, Polygon) and patch.get_alpha() == 0.13]
    assert len(cone) == 2  # one for each row
    corners = cone[0].get_xy()
    deep = corners[0][0] - corners[1][0]
    assert corners[2][1] - corners[1][1] == pytest.approx(3 * deep)  # 1.5 h_ef to each side, in one scale
    arrows = [patch for patch in _patches(found["W3"]) if isinstance(patch, FancyArrowPatch)]
    assert len(arrows) == 1


def _patches(one):
    figure = Figure()
    joint_picture(one, figure=figure)
    return list(figure.axes[0].patches) + list(figure.axes[0].artists)
