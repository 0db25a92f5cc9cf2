"""The tables of strength: what is read, what replaces what.

And the sentence for everything that does not go together.
"""

import json

import pytest
from jobparts import HEADER

from calc.base.bars import find_bar
from calc.files.design import choose
from calc.files.tables import json_schema
from calc.strength.codes import ACI, EN04, EN23

EN_TABLE = """
[design]
code = "EN 1992-1-1:2004"
f_ck = "25 MPa"
strength_from = "drawings"
f_yk = "500 MPa"
use = "anchorage"
force = "40 kN"
bond = "good"
cover = "60 mm"
spacing = "180 mm"
member_thickness = "500 mm"
drilling = "rotary"
drilling_aid = false
[design.approval]
number = "T-1 (invented)"
page = "Table 1"
k_b = 0.9
alpha_lb = 1.5
invented = true
"""
ACI_TABLE = """
[design]
code = "ACI 318-19"
f_c = "4000 psi"
strength_from = "drawings"
f_y = "60 ksi"
use = "anchorage"
force = "9 kip"
bond = "good"
cover = "3 in"
spacing = "8 in"
member_thickness = "24 in"
drilling = "rotary"
drilling_aid = false
"""


@pytest.fixture
def strong(folder):
    folder.schedule(HEADER, "A,12,16,20,400,,down,,", "B,8,#5,22,600,10,overhead,0.2,ceiling")
    folder.plain = folder.read("job.toml")
    folder.write("job.toml", folder.plain + EN_TABLE)
    return folder


@pytest.fixture
def american(strong):
    strong.write("job.toml", strong.plain + ACI_TABLE)
    return strong


def test_a_table_is_read(strong):
    design = strong.load().design
    assert (design.code, design.f_ck, design.force, design.spacing) == (EN04, 25.0, 40000.0, 180.0)
    assert design.approval.k_b == 0.9
    assert strong.load().origins["design.force"] == "40 kN"


def test_a_job_without_the_table_has_no_design(folder):
    assert folder.load().design is None


def test_the_schema_knows_the_keys():
    text = json.dumps(json_schema())
    for key in ("force_per_length", "alpha_lb", "percent_lapped", "drilling_aid", "EN 1992-1-1:2023"):
        assert key in text


def test_a_group_replaces_key_by_key(strong):
    strong.edit(
        "[design.approval]",
        '[design.group.B]\nforce_per_length = "200 kN/m"\ncover = "80 mm"\n[design.group.B.approval]\nk_b ='
        " 0.8\n[design.approval]",
    )
    design = strong.load().design
    a, b = choose(design, "A"), choose(design, "B")
    assert (a["force"], a["force_per_length"], a["cover"], a["approval.k_b"]) == (40000.0, None, 60.0, 0.9)
    assert (b["force"], b["force_per_length"], b["cover"], b["approval.k_b"]) == (None, 200000.0, 80.0, 0.8)
    assert (b["spacing"], b["approval.alpha_lb"]) == (180.0, 1.5)
    assert b.key("cover") == "design.group.B.cover"
    assert b.key("spacing") == "design.spacing"
    assert b.key("approval.k_b") == "design.group.B.approval.k_b"
    assert b.key("approval.page") == "design.approval.page"


def test_metric_and_us_texts_give_the_same(strong):
    metric = strong.load().design
    strong.edit('f_ck = "25 MPa"', 'f_ck = "3625.9434 psi"')  # any unit of a strength, whatever the code
    strong.edit('force = "40 kN"', 'force = "8.9923577 kip"')
    strong.edit('spacing = "180 mm"', 'spacing = "7.0866142 in"')
    us = strong.load().design
    for name in ("f_ck", "force", "spacing"):
        assert getattr(us, name) == pytest.approx(getattr(metric, name), rel=1e-7)


@pytest.mark.parametrize(
    ("text", "newtons_per_metre"),
    [("120 kN/m", 120e3), ("120 N/mm", 120e3), ("8 kip/ft", 116751.22), ("8000 lbf/ft", 116751.22)],
)
def test_line_forces(strong, text, newtons_per_metre):
    strong.edit('force = "40 kN"', f'force_per_length = "{text}"')
    strong.edit('spacing = "180 mm"', 'spacing = "100 mm"')
    assert strong.load().design.force_per_length == pytest.approx(newtons_per_metre, rel=1e-6)


def test_the_area_is_the_standards_own():
    assert find_bar("16").stress_area == pytest.approx(201.06193)
    assert find_bar("#8").stress_area == pytest.approx(0.79 * 645.16)
    assert find_bar("20M").stress_area == pytest.approx(300.0)


# (what is typed, what replaces it, words that the sentence has to hold)
WRONG = [
    ('code = "EN 1992-1-1:2004"', 'code = "BS 8110"', ["design.code", "BS 8110", EN04, EN23, ACI]),
    ('use = "anchorage"', 'use = "anchorage"\nbar_surface = "plain"', ["plain (smooth) bar", "ribbed"]),
    (
        "k_b = 0.9",
        "k_b = 1.2",
        ["design.approval.k_b", "1.2", "never counts on more bond than a cast-in one", "0.1 to 1"],
    ),
    ("k_b = 0.9", 'k_b = "0.9"', ["design.approval.k_b", "without quotation marks"]),
    ('f_ck = "25 MPa"', 'f_ck = "95 MPa"', ["design.f_ck", "95 MPa", "12 to 90 MPa"]),
    ('f_ck = "25 MPa"', 'f_ck = "10 MPa"', ["design.f_ck", "12 to 90 MPa"]),
    ('f_ck = "25 MPa"', 'f_ck = "25"', ["design.f_ck", "has no unit"]),
    ('f_ck = "25 MPa"', 'f_ck = "25 kN"', ["design.f_ck", "wrong kind of unit"]),
    ('f_yk = "500 MPa"', 'f_yk = "250 MPa"', ["design.f_yk", "400 to 600 MPa"]),
    ('force = "40 kN"', 'force = "95 kN"', ["stress above yield", "bar group A", "434.8 MPa", "87.42 kN"]),
    ('force = "40 kN"', 'force = "0 kN"', ["design.force", "from 0.001 to 2000 kN"]),
    ('spacing = "180 mm"', 'spacing = "20 mm"', ["design.spacing", "run into each other"]),
    ('cover = "60 mm"', 'cover = "1 mm"', ["design.cover", "break out of the face"]),
    ('cover = "60 mm"', 'cover = "60 mm"\nedge = "10 mm"', ["design.edge", "break out of the edge"]),
    (
        'cover = "60 mm"',
        'cover = "60 mm"\nexisting_bar = "16"\nexisting_spacing = "16 mm"',
        ["design.existing_spacing", "overlap"],
    ),
    ('cover = "60 mm"', 'cover = "60 mm"\nexisting_bar = "17"', ["design.existing_bar", "not a bar of the tables"]),
    ('cover = "60 mm"', 'cover = "60 mm"\nremainder = "500 mm"', ["design.remainder", "member_thickness"]),
    ('cover = "60 mm"', 'cover = "60 mm"\ncoating = "epoxy"', ["design.coating", "uncoated ribbed bars"]),
    (
        'cover = "60 mm"',
        'cover = "60 mm"\nlightweight = true',
        ["design.lightweight", "does not go together with code EN 1992-1-1:2004"],
    ),
    ('cover = "60 mm"', 'cover = "60 mm"\nf_c = "4000 psi"', ["design.f_c", "does not go together", "f_ck"]),
    ('cover = "60 mm"', 'cover = "60 mm"\nphi = 0.75', ["design.phi", "gamma_C and gamma_S"]),
    ('cover = "60 mm"', 'cover = "60 mm"\ngamma_C = 0.9', ["design.gamma_C", "1 to 2"]),
    ('bond = "good"', 'bond = "fair"', ["design.bond", "good", "poor"]),
    ('drilling = "rotary"', 'drilling = "laser"', ["design.drilling", "rotary"]),
    ('use = "anchorage"', 'use = "joint"', ["design.surface", "missing"]),
    ('use = "anchorage"', 'use = "lap"', ["design.percent_lapped", "missing"]),
    ('force = "40 kN"', 'force = "40 kN"\nforce_per_length = "90 kN/m"', ["design.force", "exactly one"]),
    (
        "[design.approval]",
        '[design.group.C]\nforce = "1 kN"\n[design.approval]',
        ["design.group.C", "not the mark of a bar group"],
    ),
    (
        'use = "anchorage"',
        'use = "anchorage"\npercentage_lapped = 50',
        ["percentage_lapped", "did you mean percent_lapped"],
    ),
]


@pytest.mark.parametrize(("old", "new", "words"), WRONG, ids=[f"{w[0][0]}-{i}" for i, w in enumerate(WRONG)])
def test_what_is_wrong_is_told(strong, old, new, words):
    strong.edit(old, new)
    found = strong.problems()
    sentence = next((s for s in found if words[0] in s), "")
    assert sentence, found
    for word in words:
        assert word in sentence, sentence
    assert len(found) == len(set(found))


@pytest.mark.parametrize(
    "key",
    [
        "use",
        "strength_from",
        "bond",
        "cover",
        "spacing",
        "drilling",
        "drilling_aid",
        "member_thickness",
        "f_ck",
        "f_yk",
    ],
)
def test_what_a_design_needs_has_no_default(strong, key):
    text = strong.read("job.toml")
    strong.write("job.toml", "\n".join(line for line in text.split("\n") if not line.startswith(f"{key} =")))
    found = strong.problems()
    assert any(f"key design.{key}" in s and "is missing" in s for s in found), found


@pytest.mark.parametrize("key", ["number", "page", "k_b", "alpha_lb"])
def test_an_approval_value_is_never_assumed(strong, key):
    text = strong.read("job.toml")
    head, tail = text.split("[design.approval]")
    strong.write(
        "job.toml",
        head + "[design.approval]" + "\n".join(line for line in tail.split("\n") if not line.startswith(f"{key} =")),
    )
    for sentence in strong.problems():
        assert f"design.approval.{key}" in sentence
        assert "never assumed" in sentence


def test_a_factor_of_the_other_edition_is_refused(strong):
    strong.edit("EN 1992-1-1:2004", "EN 1992-1-1:2023")
    sentence = strong.only()
    assert "design.approval.k_b" in sentence
    assert "k_b_pi" in sentence


def test_no_approval_at_all_tells_each_missing_value(strong):
    strong.write("job.toml", strong.read("job.toml").split("[design.approval]")[0])
    assert {f"design.approval.{k}" in " ".join(strong.problems()) for k in ("number", "page", "k_b", "alpha_lb")} == {
        True
    }


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('f_c = "4000 psi"', 'f_c = "2000 psi"', ["design.f_c", "2500 to 20000 psi"]),
        ('f_y = "60 ksi"', 'f_y = "120 ksi"', ["design.f_y", "40000 to 100000 psi"]),
        (
            'f_y = "60 ksi"',
            'f_y = "60 ksi"\ngamma_C = 1.5',
            ["design.gamma_C", "does not go together with code ACI 318-19"],
        ),
        ('force = "9 kip"', 'force = "20 kip"', ["stress above yield", "phi times f_y"]),
        ('force = "9 kip"', 'force = "9 kip"\ncompression = true', ["design.compression", "EN 1992-1-1:2004 only"]),
        ('force = "9 kip"', 'force = "9 kip"\nbar_stress = "20 ksi"', ["design.bar_stress", "developed for f_y"]),
        (
            'use = "anchorage"',
            (
                'use = "lap"\nexcess_reduction = true\npercent_lapped = 50\nend_cover = "2 in"\ngap = "1'
                ' in"\nexisting_bar = "#5"'
            ),
            ["design.excess_reduction", "full yield strength"],
        ),
        (
            'use = "anchorage"\nforce = "9 kip"',
            'use = "joint"\nforce_per_length = "2 kip/ft"\nsurface = "rough"\njoint_width = "10 in"',
            ["design.surface", "roughened"],
        ),
    ],
)
def test_what_does_not_go_with_aci_is_told(american, old, new, words):
    american.edit(old, new)
    found = american.problems()
    sentence = next((s for s in found if words[0] in s), "")
    assert sentence, found
    for word in words:
        assert word in sentence


def test_a_joint_is_designed_per_metre(strong):
    strong.edit('use = "anchorage"', 'use = "joint"\nsurface = "rough"\njoint_width = "300 mm"')
    assert any("force_per_length" in s and "design.force" in s for s in strong.problems())


def test_a_joint_stress_above_yield_is_refused(strong):
    strong.edit('use = "anchorage"', 'use = "joint"\nsurface = "rough"\njoint_width = "300 mm"\nbar_stress = "450 MPa"')
    strong.edit('force = "40 kN"', 'force_per_length = "100 kN/m"')
    assert "above the design yield strength" in strong.only()


@pytest.mark.parametrize("bar", ["#14", "#18", "45M", "55M", "40"])
def test_aci_bars_that_may_not_be_lapped(american, bar):
    american.schedule(HEADER, f"A,12,{bar},70,900,,down,,")
    american.edit(
        'use = "anchorage"', 'use = "lap"\npercent_lapped = 50\nend_cover = "2 in"\ngap = "1 in"\nexisting_bar = "#8"'
    )
    assert f"bars {bar} may not be lapped" in american.only()


@pytest.mark.parametrize("bar", ["#11", "35M", "32"])
def test_aci_bars_that_may_be_lapped(american, bar):
    american.schedule(HEADER, f"A,12,{bar},60,900,,down,,")
    american.edit(
        'use = "anchorage"', 'use = "lap"\npercent_lapped = 50\nend_cover = "2 in"\ngap = "1 in"\nexisting_bar = "#8"'
    )
    assert american.load().group("A").bar.designation == bar
