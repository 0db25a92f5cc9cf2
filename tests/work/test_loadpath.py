"""What takes the force: each load path asks for what it needs, anchors are judged in all modes.

And what is missing is owed.

The resistances of single bars far from every edge are worked by hand here, from the formulas of EN 1992-4:2018 and ACI
318-19 as the modules of the codes quote them; those of groups are held against those modules, which have tests of their
own.
"""

import itertools
import math
from dataclasses import replace

import pytest
from jobparts import HEADER

from calc.cli import main
from calc.files.design import lines_to_add
from calc.files.job import demo_job
from calc.strength import aci318_19_17, en1992_4
from calc.work.embedment import work as embedment
from calc.work.embedment.anchor import design_anchor
from calc.work.load import load_job
from calc.work.results import compute

COMMON = 'strength_from = "drawings"\ndrilling = "rotary"\ndrilling_aid = false\nuse = "anchorage"\n'
EN = (
    f'[design]\ncode = "EN 1992-1-1:2004"\nf_ck = "30 MPa"\nf_yk = "500 MPa"\n{COMMON}bond = "good"\ncover = "60'
    ' mm"\nspacing = "200 mm"\nmember_thickness = "600 mm"\n'
)
BARS = '[design.approval]\nnumber = "T-1"\npage = "Table 1"\nk_b = 1.0\nalpha_lb = 1.0\ninvented = true\n'
FORCE = 'force = "30 kN"\n'
ANCHOR = (
    EN.replace('"60 mm"', '"500 mm"').replace('bond = "good"\n', "")
    + 'force = "10 kN"\nforce_path = "concrete"\nbars_in_row = 1\nedge = "far"\nedge_right = "far"\nedge_above ='
    ' "far"\nf_uk = "540 MPa"\nshear_by = "T-9"\ndense = false\n'
)
PRODUCT = (
    '[design.approval]\nnumber = "T-1"\npage = "Table 1"\ninvented = true\ntau_Rk = "6 MPa"\ntau_Rk_uncr = "11'
    ' MPa"\ngamma_inst = 1.2\nc_cr_sp = "360 mm"\nc_min = "60 mm"\ns_min = "60 mm"\nh_min = "220 mm"\n'
)
ACI = (
    f'[design]\ncode = "ACI 318-19"\nf_c = "4000 psi"\nf_y = "60 ksi"\n{COMMON}cover = "20 in"\nspacing = "8'
    ' in"\nmember_thickness = "20 in"\nforce = "3 kip"\nforce_path = "concrete"\nbars_in_row = 1\nedge ='
    ' "far"\nedge_right = "far"\nedge_above = "far"\nf_uta = "90 ksi"\nshear_by = "T-9"\nconcrete_age = "400 d"\n'
)
REPORT = (
    '[design.approval]\nnumber = "T-1"\npage = "Table 1"\ninvented = true\ntau_cr = "900 psi"\ntau_uncr = "1800'
    ' psi"\ncategory = 1\nh_min = "10 in"\n'
)
ROW = "A,12,16,20,180,,down,,"


@pytest.fixture
def job(folder):
    plain = folder.read("job.toml")

    def make(tables, row=ROW, units="metric"):
        folder.schedule(HEADER, row)
        folder.write("job.toml", plain.replace('units = "metric"', f'units = "{units}"') + tables)
        return folder

    return make


def part(made):
    return embedment.design_job(made.load())


def only(made):
    (one,) = part(made).in_order
    return one


def checks(one):
    return {check.name: check for check in one.sheet.checks}


def kilo(one, name):
    return checks(one)[name].resistance


# ---- the load path ----


def test_a_force_without_a_load_path_is_owed_and_the_numbers_are_shown(job):
    """A long row of anchors 180 mm deep at 200 mm, 68 mm from an edge.

    A share of the cone, 200 of 540 mm and 338 of 540 mm wide.
    """
    made = job(EN + FORCE + BARS)
    one = only(made)
    check = checks(one)["force_path"]
    assert check.verdict == "owed"
    assert check.missing == (("design.group.A", "force_path"),)
    assert not one.passes
    assert one.required > 0
    alone = next(notice for notice in one.sheet.notices if notice.name == "concrete_alone").text
    width = (2 * 270 + 11 * 200) / 12
    cone = 7.7 * math.sqrt(30) * 180**1.5 * width * (270 + 68) / 540**2 * (0.7 + 0.3 * 68 / 270) / 1.5 / 1000
    assert f"at most {cone:.1f} kN, by concrete cone" in alone
    assert "12 bars in a row" in alone


@pytest.mark.parametrize("word", ["tension_line", "end_support", "compression", "concrete"])
def test_no_word_alone_switches_a_check_off(job, word):
    text = EN + FORCE + f'force_path = "{word}"\n' + BARS
    one = only(job(text))
    assert "force_path" not in checks(one)
    assert not one.passes
    if word == "compression":
        assert checks(one)["compression"].verdict == "fails"


def test_a_tension_line_is_stated_by_somebody_who_stands_on_page_1(job):
    made = job(EN + FORCE + 'force_path = "tension_line"\ntension_line_by = "truss model T-7, B. Person"\n' + BARS)
    assert only(made).passes
    assert "A: the member's own truss and links take the force: shown by truss model T-7, B. Person." in [
        n.words for n in compute(made.load()).outside
    ]


END = (
    'force_path = "end_support"\nsupport_shear = "22 kN"\nshift_ratio = 1.25\nspan_steel = "402 mm²"\nsupport_face ='
    ' "20 mm"\n'
)


def test_an_end_support_meets_the_strut(job):
    """22 x 1.25 = 27.5 kN of 30; a quarter of 402 mm² of the bar's 201.06; 20 mm of the hole lie before the face."""
    one = only(job(EN + FORCE + END + BARS))
    found = checks(one)
    assert found["support_tie"].utilisation == pytest.approx(27.5 / 30)
    assert found["support_steel"].utilisation == pytest.approx(100.5 / (64 * math.pi))
    assert found["support_length"].resistance == 160.0
    assert found["support_length"].demand == pytest.approx(one.required)
    failing = END.replace("1.25", "1.4").replace("402", "850").replace("20 mm", "120 mm")
    assert {n for n, c in checks(only(job(EN + FORCE + failing + BARS))).items() if c.verdict == "fails"} >= {
        "support_tie",
        "support_steel",
        "support_length",
    }


def test_an_end_support_by_aci_takes_a_third(job):
    text = ACI.replace('"concrete"', '"end_support"').replace(
        'shear_by = "T-9"\n', 'bond = "good"\nspan_steel = "1.2 in²"\n'
    )
    one = only(job(text, row="A,12,#5,19,400,,down,,", units="us"))
    assert checks(one)["support_steel"].demand == pytest.approx(0.4)
    assert checks(one)["support_steel"].verdict == "fails"


def test_a_lap_and_a_joint_are_load_paths_themselves(job):
    lap = 'force_path = "lap"\npercent_lapped = 50\nend_cover = "30 mm"\ngap = "20 mm"\nexisting_bar = "16"\n'
    made = job(EN.replace('use = "anchorage"\n', "") + FORCE + lap + BARS)
    assert only(made).case.use == "lap"
    assert "force_path" not in checks(only(made))
    assert 'does not go together with use = "anchorage"' in job(EN + FORCE + lap + BARS).only()
    # A group that states its own takes the place of what the job says of all bars.
    own = only(
        job(
            EN
            + FORCE
            + 'force_path = "tension_line"\n'
            + BARS
            + '[design.group.A]\nuse = "lap"\n'
            + lap.split("\n", 1)[1]
        )
    )
    assert (own.case.use, own.case.path) == ("lap", "lap")


def test_a_bar_that_is_too_short_fails_and_what_concrete_would_hold_stands_beside_it(job):
    one = only(job(EN + 'force = "60 kN"\nforce_path = "tension_line"\ntension_line_by = "T-7"\n' + BARS))
    assert checks(one)["embedment"].verdict == "fails"
    assert any(notice.name == "concrete_alone" for notice in one.sheet.notices)


# ---- owed, and closed by a reason ----


def test_an_owed_check_closes_by_a_reason_that_page_1_prints(job):
    closed = (
        EN
        + FORCE
        + 'force_path = "tension_line"\n'
        + BARS
        + '[design.group.A.elsewhere]\ntension_line = "designed elsewhere: model T-8"\n'
    )
    made = job(closed)
    assert only(made).passes
    (told,) = (n.words for n in compute(made.load()).outside)
    assert (
        told
        == "A: not judged here: the member's own truss and links take the force. Reference: designed elsewhere: model"
        " T-8."
    )
    # What was judged is not closed by a reason.
    late = only(job(closed.replace("30 kN", "60 kN") + 'embedment = "designed elsewhere: nobody"\n'))
    assert checks(late)["embedment"].verdict == "fails"
    assert any("elsewhere.embedment closes nothing" in n.text for n in late.sheet.notices)


def test_a_reason_has_to_say_something(job):
    text = EN + FORCE + BARS + '[design.group.A.elsewhere]\nforce_path = " "\n'
    assert 'has no reference for "force_path"' in job(text).only()


def test_an_older_job_file_stays_valid_and_check_says_what_to_add(job, capsys):
    made = job(EN + FORCE + BARS)
    assert main(["check", str(made.path)]) == 1
    said = capsys.readouterr().out
    assert "OWED: A (ø16): what takes the force in the old concrete" in said
    assert "[design.group.A]" in said
    line = next(line for line in said.splitlines() if line.startswith("force_path"))
    assert all(word in line for word in ("end_support", "tension_line", "compression", "concrete", 'use = "lap"'))


def test_lines_to_add_name_each_key_once():
    lines = lines_to_add(compute(load_job(demo_job("failing"))).checks)
    tables = [line for line in lines if line.startswith("[")]
    assert len(tables) == len(set(tables))
    bars = lines[lines.index("[design.group.C2]") : lines.index("[design.group.C2.approval]")]
    assert sorted(line.split(" ")[0] for line in bars[1:]) == [
        "bars_in_row",
        "edge",
        "edge_above",
        "edge_right",
        "f_uk",
    ]


# ---- anchors by EN 1992-4 ----


def test_a_single_anchor_far_from_every_edge(job):
    """Cone 7.7 √30 180^1.5 = 101.85 kN and bond 0.6 π 16 180 6 = 32.57 kN, both over 1.8.

    Steel 201.06 x 540 over 1.4.
    """
    one = only(job(ANCHOR + PRODUCT))
    assert one.passes
    assert kilo(one, "cone") == pytest.approx(101.85 / 1.8, rel=1e-4)
    assert kilo(one, "pullout") == pytest.approx(32.57 / 1.8, rel=2e-4)
    assert kilo(one, "steel") == pytest.approx(64 * math.pi * 540 / 1.4 / 1000)
    assert one.governing.name == "pullout"
    assert [mode.name for mode in one.modes] == ["pullout", "cone", "steel"]
    assert any("splitting under load need not be verified" in n.text for n in one.sheet.notices)


def test_safe_readings_are_used_and_said(job):
    one = only(job(ANCHOR.replace("dense = false\n", "") + PRODUCT))
    said = next(n.text for n in one.sheet.notices if n.name == "assumed")
    for words in ("cracked concrete", "dense reinforcement", "all of the load is sustained", "psi_sus0 = 0.6"):
        assert words in said
    stated = ANCHOR + "cracked = true\nalpha_sus = 0.2\n" + PRODUCT + "psi_sus0 = 0.7\n"
    known = only(job(stated))
    assert not any(n.name == "assumed" for n in known.sheet.notices)
    assert kilo(known, "pullout") == pytest.approx(kilo(one, "pullout") / 0.6)
    assert kilo(only(job(stated.replace("true\nalpha", "false\nalpha"))), "cone") == pytest.approx(
        kilo(one, "cone") * 11 / 7.7
    )


def test_a_grid_meets_the_formulas_of_the_code_with_edges_from_the_bars_centres(job):
    text = ANCHOR.replace('"500 mm"', '"100 mm"').replace(
        "bars_in_row = 1", 'bars_in_row = 3\nbar_rows = 2\nrow_spacing = "150 mm"'
    )
    text = text.replace('edge = "far"', 'edge = "140 mm"') + "alpha_sus = 0.0\n"
    one = only(job(text + PRODUCT))
    lay = {"edges": (140.0, None, 108.0, None), "spacings": (200.0, 3, 150.0, 2)}
    cone = en1992_4.cone_resistance(k_1=7.7, f_ck=30.0, h_ef=180.0, **lay)
    bond = en1992_4.pullout_resistance(tau_Rk=6.0, tau_Rk_uncr=11.0, d=16.0, h_ef=180.0, f_ck=30.0, k_3=7.7, **lay)
    assert kilo(one, "cone") == pytest.approx(cone / 1800)
    assert kilo(one, "pullout") == pytest.approx(bond / 1800)
    assert checks(one)["cone"].demand == pytest.approx(60.0)
    assert checks(one)["steel"].demand == pytest.approx(10.0)
    assert checks(one)["c_min"].resistance == 108.0
    assert checks(one)["splitting"].verdict in ("passes", "fails")


def test_the_worst_bar_of_an_eccentric_pull_is_that_of_a_linear_distribution(job):
    """Six bars by brute force: N (1/n + e_x x/Σx² + e_y y/Σy²)."""
    text = ANCHOR.replace(
        "bars_in_row = 1",
        'bars_in_row = 3\nbar_rows = 2\nrow_spacing = "150 mm"\neccentricity_x = "20 mm"\neccentricity_y = "15 mm"',
    )
    one = only(job(text + PRODUCT))
    places = list(itertools.product((-200.0, 0.0, 200.0), (-75.0, 75.0)))
    xx, yy = (sum(place[i] ** 2 for place in places) for i in (0, 1))
    worst = max(60 * (1 / 6 + 20 * x / xx + 15 * y / yy) for x, y in places)
    assert checks(one)["steel"].demand == pytest.approx(worst)
    assert checks(one)["eccentricity"].passes
    far = only(job(text.replace('"20 mm"', '"130 mm"') + PRODUCT))
    least = min(60 * (1 / 6 + 130 * x / xx + 15 * y / yy) for x, y in places)
    assert least < 0
    assert checks(far)["eccentricity"].verdict == "fails"


def test_a_moment_that_nothing_balances_is_refused(job):
    assert "nothing balances the moment" in job(ANCHOR + 'eccentricity_x = "10 mm"\n' + PRODUCT).only()


@pytest.mark.parametrize(("depth", "counts"), [(319.0, 319.0), (320.0, 320.0), (400.0, 320.0)])
def test_depth_beyond_20_diameters_is_not_counted(job, depth, counts):
    one = only(job(ANCHOR + PRODUCT, row=f"A,12,16,20,{depth:g},,down,,"))
    assert one.depth == counts
    assert kilo(one, "cone") == pytest.approx(7.7 * math.sqrt(30) * counts**1.5 / 1800)


OWED = [
    ("f_uk", "steel"),
    ("bars_in_row", "cone"),
    ("edge", "cone"),
    ("edge_right", "pullout"),
    ("edge_above", "splitting"),
    ("tau_Rk", "pullout"),
    ("tau_Rk_uncr", "pullout"),
    ("gamma_inst", "cone"),
    ("c_cr_sp", "splitting"),
    ("h_min", "splitting"),
    ("h_min", "h_min"),
    ("c_min", "c_min"),
    ("page", "pullout"),
]


@pytest.mark.parametrize(("key", "name"), OWED)
def test_what_a_mode_lacks_is_owed_by_its_key(job, key, name):
    text = "".join(line for line in (ANCHOR + PRODUCT).splitlines(True) if line.split(" ")[0] != key)
    check = checks(only(job(text)))[name]
    assert check.verdict == "owed"
    assert key in [one for _, one in check.missing]
    assert key in check.reason


def test_shear_fails_until_somebody_is_named(job):
    one = only(job(ANCHOR.replace('shear_by = "T-9"\n', "") + PRODUCT))
    assert checks(one)["shear"].verdict == "fails"
    assert "not covered" in checks(one)["shear"].reason
    named, rest = (n.text for n in only(job(ANCHOR + PRODUCT)).outside)
    assert named.endswith("Verified by: T-9.")
    assert all(word in rest for word in ("Seismic", "fatigue and fire", "Annex A", "TR 069"))


def test_an_anchor_asks_for_no_bond_length(job):
    made = job(ANCHOR + PRODUCT)
    entry = part(made).entry("A")
    assert (entry["required_embedment_mm"], entry["force_path"], entry["anchor_mode"]) == (None, "concrete", "pullout")
    assert part(made).get("A") is None


@pytest.mark.parametrize("key", ['f_uta = "90 ksi"\n', "supplementary = true\n", 'concrete_age = "60 d"\n'])
def test_keys_of_the_other_code_are_refused(job, key):
    assert "does not go together with code EN 1992-1-1:2004" in job(ANCHOR + key + PRODUCT).only()


# ---- anchors by ACI 318-19 ----


US_ROW = "A,12,#5,19,177.8,,{},,"


def test_a_single_anchor_by_aci(job):
    """17 √4000 7^1.5 = 19.91 kip and 900 π 0.625 7 = 12.37 kip, both times 0.65; steel 0.31 x 90 ksi times 0.65.

    0.55 of the bond.
    """
    one = only(job(ACI + REPORT, row=US_ROW.format("down"), units="us"))
    assert one.passes
    assert kilo(one, "cone") == pytest.approx(0.65 * 17 * math.sqrt(4000) * 7**1.5 / 1000)
    assert kilo(one, "pullout") == pytest.approx(0.65 * 0.9 * math.pi * 0.625 * 7)
    assert kilo(one, "steel") == pytest.approx(0.65 * 0.31 * 90)
    assert kilo(one, "sustained") == pytest.approx(0.55 * 0.65 * 0.9 * math.pi * 0.625 * 7)
    assert one.governing.name == "sustained"
    half = only(job(ACI + "alpha_sus = 0.5\n" + REPORT, row=US_ROW.format("down"), units="us"))
    assert checks(half)["sustained"].demand == pytest.approx(1.5)


def test_uncracked_concrete_by_aci_takes_the_codes_edge_distance(job):
    text = (
        ACI.replace('"20 in"', '"5 in"', 1)
        + "cracked = false\nductile = true\nsupplementary = false\nalpha_sus = 0.0\n"
        + REPORT
    )
    one = only(job(text, row=US_ROW.format("down"), units="us"))
    lay = {"edges": (None, None, 5.3125, None), "spacings": (0.0, 1, 0.0, 1)}
    expected = aci318_19_17.breakout_resistance(k_c=17.0, f_c=4000.0, h_ef=7.0, cracked=False, **lay)
    assert kilo(one, "cone") == pytest.approx(0.65 * expected / 1000)
    assert kilo(one, "steel") == pytest.approx(0.75 * 0.31 * 90)
    assert next(n.text for n in one.sheet.notices if n.name == "assumed").endswith("c_ac = 2 h_ef.")


@pytest.mark.parametrize(("age", "passes"), [("21 d", True), ("20.9 d", False)])
def test_concrete_has_to_be_21_days_old(job, age, passes):
    one = only(job(ACI.replace("400 d", age) + REPORT, row=US_ROW.format("down"), units="us"))
    assert checks(one)["age"].passes is passes


@pytest.mark.parametrize("direction", ["horizontal", "overhead"])
def test_sustained_tension_up_or_sideways_asks_for_installer_and_inspection(job, direction):
    row = US_ROW.format(direction)
    names = ("installer", "inspection")
    assert [checks(only(job(ACI + REPORT, row=row, units="us")))[name].verdict for name in names] == ["owed", "owed"]
    stated = ACI + "certified_installer = true\ncontinuous_inspection = false\n" + REPORT
    assert [checks(only(job(stated, row=row, units="us")))[name].verdict for name in names] == ["passes", "fails"]
    assert not set(names) & set(checks(only(job(ACI + "alpha_sus = 0\n" + REPORT, row=row, units="us"))))


def test_depth_and_distances_without_tests_by_aci(job):
    """Four diameters of 0.625 are 2.5 in, six are 3.75 in."""
    text = (
        ACI.replace('"20 in"', '"3 in"', 1).replace("bars_in_row = 1", "bars_in_row = 2").replace('"8 in"', '"3.5 in"')
    )
    one = only(job(text + REPORT, row="A,12,#5,19,60,,down,,", units="us"))
    found = checks(one)
    assert {name: (found[name].demand, found[name].verdict) for name in ("depth", "c_min", "s_min")} == {
        "depth": (2.5, "fails"), "c_min": (3.75, "fails"), "s_min": (3.75, "fails"),
    }  # fmt: skip


# ---- the demo jobs ----


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_careful_engineer_could_sign_the_demos(units):
    results = compute(load_job(demo_job(units)))
    found = next(p for p in results.parts if isinstance(p, embedment.Embedment))
    assert results.passes
    assert all(one.case.path for one in found.in_order)
    assert len(found.anchors) == 1
    told = [notice.words for notice in results.outside]
    assert all(any(mark in words for words in told) for mark in found.not_designed)


FAILS = {
    "embedment",
    "existing",
    "adjacent",
    "lap_cover",
    "transverse",
    "links",
    "thick",
    "joint",
    "cone",
    "pullout",
    "splitting",
    "steel",
    "c_min",
    "s_min",
    "h_min",
    "eccentricity",
    "shear",
    "longest",
    "cover",
    "edge",
    "spacing",
    "drift",
    "thickness",
    "oversize",
    "between",
    "support_tie",
    "support_steel",
    "support_length",
    "compression",
}
OWES = {
    "existing",
    "arrangement",
    "lap_cover",
    "transverse",
    "links",
    "thick",
    "joint_concrete",
    "steel",
    "cone",
    "pullout",
    "splitting",
    "c_min",
    "s_min",
    "h_min",
    "force_path",
    "tension_line",
    "support_tie",
    "support_steel",
    "support_length",
    "strength",
}


def test_the_failing_demo_has_one_of_each_kind():
    results = compute(load_job(demo_job("failing")))
    found = results.sheet_of("04_embedment").checks
    assert {check.name for check in found if check.verdict == "fails"} == FAILS
    assert {check.name for check in found if check.verdict == "owed"} == OWES
    verdict = results.headline[0]
    failed, owed = (sum(check.verdict == word for check in results.checks) for word in ("fails", "owed"))
    assert verdict.startswith(f"{failed} of {len(results.checks)} checks FAIL and {owed} are owed, first: ")
    assert not results.passes


def test_a_case_is_kept_by_all_that_decides_it():
    part = embedment.design_job(load_job(demo_job()))
    (one,) = part.anchors
    other = replace(one.case, embedment=one.case.embedment - 40.0)
    assert design_anchor(other).depth == one.depth - 40.0
