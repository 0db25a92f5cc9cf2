"""One question at the prompt: dose, surface, share and arithmetic, or a sentence."""

import math
import re

import pytest

from calc.cli import main
from calc.files.job import demo_job
from calc.work.dose import case_of, work
from calc.work.load import load_job
from calc.work.whole import chosen_case


@pytest.fixture
def ask(capsys):
    """Ask the command; returns its status, what it said, and what it refused."""

    def run(*words):
        status = main(["dose", *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_the_answer_by_hand(ask):
    """Bar 16 in 20, 200 deep: π/4 (400 - 256) 200 = 22 619.47 mm³; in the empty hole 72.0 mm high; 144/400 are 36 %."""
    status, said, _ = ask("--bar", "16", "--hole", "20", "--depth", "200")
    assert status == 0
    assert "Bare minimum: 22.6 mL for each hole, without the drill's tip or anything on top" in said
    assert f"surface {200 - math.pi / 4 * (400 - 256) * 200 / (math.pi / 4 * 400):.1f} mm below the mouth; 36 %" in said
    assert "π ÷ 4 × (20^2 − 16^2) × 200 = 22619 mm³ = 22.619 mL" in said
    assert "no check" in said


@pytest.mark.parametrize(
    "words", [("16 20 200"), ("16 20 200 mm"), ("--bar 16 --hole 2 cm --depth 0.2 m"), ("16 2 20 cm")]
)
def test_ways_to_ask_the_same(ask, words):
    _, wanted, _ = ask("--bar", "16", "--hole", "20 mm", "--depth", "200 mm")
    assert ask(*words.split()) == (0, wanted, "")


def test_inches_are_asked_and_answered_in_inches(ask):
    """Bar #5 in 3/4, 8 deep: π/4 (0.5625 - 0.390625) 8 = 1.07992 in³."""
    asked = ask("#5", "3/4", "8", "in")
    assert asked == ask("--bar", "#5", "--hole", "3/4", "in", "--depth", "8 in")
    assert "π ÷ 4 × (0.75^2 − 0.625^2) × 8 = 1.0799 in³ = 0.59840 fl oz" in asked[1]
    assert "3/4 in, 8 in deep" in asked[1]


def test_the_line_can_be_keyed_in(ask):
    _, said, _ = ask("16", "20", "200", "--point-angle", "130", "--overfill", "0.15", "--overdrill", "12")
    lines = re.findall(r": ([^:=\n]+) = ([0-9.]+) m[mL]", said, flags=re.M)
    assert len(lines) == 4
    for keys, result in lines:
        text = keys.replace("π", "pi").replace("÷", "/").replace("×", "*").replace("−", "-").replace("^", "**")
        worked = eval(text.replace("°", ""), {"pi": math.pi, "tan": lambda x: math.tan(math.radians(x))})
        assert worked == pytest.approx(float(result), rel=1e-4)
    assert "without" not in said


@pytest.mark.parametrize("units", ["metric", "us"])
def test_with_a_job_its_own_dispenser_and_overfill(ask, units):
    job = load_job(demo_job(units))
    bar, width, deep = {"metric": ("16", "20 mm", "200 mm"), "us": ("#5", "3/4 in", "8 in")}[units]
    group = next(g for g in job.groups if g.mark not in job.measured)
    status, said, _ = ask("--bar", bar, "--hole", width, "--depth", deep, "--job", str(job.path))
    assert status == 0
    assert f"Dispense into each hole: {re.search('hole: ([^,]+),', said)[1]}, with an overfill of" in said
    assert "Rounded dose:" in said
    status, said, _ = ask(
        *("--bar", group.bar.designation, "--hole", f"{group.hole_diameter} mm", "--depth", f"{group.embedment} mm"),
        *("--overdrill", f"{group.overdrill} mm", "--overfill", f"{chosen_case(job, group).overfill:.9f}"),
        *("--job", str(job.folder)),
    )
    assert work(chosen_case(job, group)).dispense_text in said


def test_a_hole_that_fails_a_check_says_so(ask, folder):
    status, said, _ = ask("40", "60", "1500", "--job", str(folder.path))
    assert status == 1
    assert "FAILS: " in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", "--bar: the cell is empty"),
        ("16 20", "'16 20' cannot be read; accepted: bar, hole and depth"),
        ("16 20 200 mm 5", "cannot be read"),
        ("16 20 200 --bar 20", "cannot be read"),
        ("17 20 200", "--bar: '17' is not a bar"),
        ("16 15 200", "--hole: '15 mm' is not larger than the bar"),
        ("16 20 2,5", "--depth: '2,5'"),
        ("16 20 200 stone", "unknown unit 'stone'"),
        ("--bar 16 --depth 200", "--hole: the field is empty"),
        ("16 20 200 --overfill 15", "--overfill: '15' is too large"),
        ("16 20 200 --point-angle 20", "--point-angle: '20 °' is out of range"),
        ("16 20 200 --point-angle 130 --job {demo}", "--point-angle: the drill is the job's"),
        ("16 20 200 --job nowhere", "nowhere"),
    ],
)
def test_what_is_refused_is_a_sentence(ask, words, said):
    status, out, err = ask(*words.format(demo=demo_job()).split())
    assert (status, out) == (2, "")
    assert said in err
    assert "Traceback" not in err


def test_the_dispensers_own_unit_leads(folder):
    """A dispenser in mL on a US job: its setting first, what the job's sheets say behind it."""
    folder.edit('units = "metric"', 'units = "us"')
    job = folder.load()
    one = work(case_of(job, job.groups[0]))
    assert one.dispense_text.startswith(f"{one.number} mL (")
    folder.edit('graduation = "1 mL"', 'stroke = "10 mL"')
    job = folder.load()
    one = work(case_of(job, job.groups[0]))
    assert one.dispense_text.startswith(f"{one.number} strokes, {one.number * 10} mL (")
    folder.edit('stroke = "10 mL"', 'stroke = "0.5 fl oz"')
    job = folder.load()
    assert " mL" not in work(case_of(job, job.groups[0])).dispense_text
