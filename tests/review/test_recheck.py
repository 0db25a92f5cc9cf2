"""Recheck: what it finds, in which order it tells it, and that it runs nothing of a package."""

import json
import os
import re
import shutil
import subprocess
import sys

import pytest

from calc.cli import main
from calc.package.manifest import PackageError, parse, sealed, shown, unsealed
from calc.review import recheck as module
from calc.review.compare import changes, same
from calc.review.compare import results as results_compared
from calc.review.recheck import recheck, what_if
from calc.work.load import load_job
from calc.work.results import compute


def results_of(folder):
    return json.loads((folder / "results.json").read_text(encoding="utf-8"))


def write_results(folder, content):
    (folder / "results.json").write_text(
        json.dumps(content, ensure_ascii=False, indent=1) + "\n", encoding="utf-8", newline="\n"
    )


def step_of(content, end):
    return next(step for sheet in content["sheets"] for step in sheet["steps"] if step["id"].endswith(end))


def test_a_package_as_built_is_identical(demo_package, capsys):
    assert main(["recheck", "--quick", str(demo_package)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("numbers: IDENTICAL: ")
    assert "no cryptographic signature" in said
    assert "numbers to 1e-09" in said


def test_other_versions_are_told_and_do_no_harm(package, reseal):
    versions = json.loads((package / "manifest.json").read_text(encoding="utf-8"))["versions"] | {"numpy": "1.0.0"}
    reseal(package, versions=versions, python="3.0.0")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("identical", 0)
    assert "numpy: 1.0.0 → " in verdict.text()
    assert "python: 3.0.0 → " in verdict.text()


@pytest.mark.parametrize(
    ("factor", "word", "code"), [(1 + 1e-11, "same within tolerance", 0), (1 + 1e-8, "differs", 1)]
)
def test_the_tolerance_has_two_sides(package, reseal, factor, word, code):
    content = results_of(package)
    step = step_of(content, ".V_a")
    step["value"] *= factor
    write_results(package, content)
    reseal(package)
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == (word, code)
    assert (step["id"] in verdict.sentence) == (code == 1)


def test_a_package_with_all_digits_is_compared_in_canonical_form(package, reseal, monkeypatch):
    """As packages were built before numbers had one form: the last digits are another machine's."""
    content = compute(load_job(package / "inputs")).unrounded()
    assert content != results_of(package)
    write_results(package, content)
    reseal(package)
    monkeypatch.setattr(results_compared, "TOLERANCE", 0.0)
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code, verdict.changes) == ("same within tolerance", 0, ())
    assert changes(content, compute(load_job(package / "inputs")).data()) == ()


def test_typesetting_of_other_software_is_no_difference_but_of_the_same_software_it_is(package, reseal):
    content = results_of(package)
    step_of(content, ".V_a")["latex"] += r"\,"
    write_results(package, content)
    reseal(package)
    assert recheck(package, quick=True).word == "differs"
    reseal(package, calc="0.0.9")
    verdict = recheck(package, quick=True)
    assert verdict.word == "same within tolerance"
    assert "typeset differently" in verdict.sentence


def test_the_first_cause_comes_first(package, reseal, edit, capsys):
    """results.json as an older calc might have written it.

    Everything of P5 that rests on the embedment came out otherwise.
    """
    original = (package / "inputs" / "schedule.csv").read_bytes()
    edit(package / "inputs" / "schedule.csv", "25,32,360,", "25,32,370,")
    (package / "results.json").write_text(compute(load_job(package / "inputs")).text(), encoding="utf-8", newline="\n")
    (package / "inputs" / "schedule.csv").write_bytes(original)
    reseal(package)
    assert main(["recheck", "--quick", str(package)]) == 1
    said = capsys.readouterr().out
    assert said.startswith("numbers: DIFFERS: ")
    verdict = recheck(package, quick=True)
    steps = [change for change in verdict.changes if change.kind == "step"]
    place = {change.id: number for number, change in enumerate(steps)}
    assert not steps[0].follows
    assert "l_v 370 mm → 360 mm" in steps[0].words
    assert all(place[source] < place[change.id] for change in steps for source in change.follows)
    assert place["01.P5.V_a"] < place["01.P5.V_req"] < place["01.P5.V_dose"]
    assert "01.P5.V_a" in steps[place["01.P5.V_req"]].follows
    assert re.search(r"\(2\.7 % less\)", steps[place["01.P5.V_a"]].words)  # 10 of 370
    assert "01.S1.V_a" not in place


def test_a_changed_formula_is_named(package, reseal):
    content = results_of(package)
    step = step_of(content, ".V_t")
    step["expression"], step["value"] = "pi / 12 * d_0 ** 3", step["value"] * 2
    write_results(package, content)
    reseal(package)
    verdict = recheck(package, quick=True)
    assert verdict.changes[0].id == step["id"]
    assert verdict.changes[0].what == "formula"
    assert "expression: pi / 12 * d_0 ** 3 → " in verdict.sentence


def test_order_of_causes_by_hand():
    """c takes b, b takes a; they stand in the worst order, beside two that name each other."""

    def content(shift):
        def one(name, value, *origins):
            return {
                "id": name,
                "label": "",
                "value": value,
                "inputs": [{"name": o, "value": 1.0, "origin": f"step {o}", "step": o} for o in origins],
            }

        steps = [
            one("c", 3 + shift, "b"),
            one("r", 1 + shift, "s"),
            one("s", 1 + shift, "r"),
            one("b", 2 + shift, "a"),
            one("a", 1 + shift),
            one("z", 5.0, "a"),
        ]
        return {
            "schema": 2,
            "sheets": [{"notebook": "n", "steps": steps, "checks": []}],
            "groups": [],
            "totals": {"packs": 3 if shift else None},
        }

    found = changes(content(0), content(1))
    assert [change.id for change in found] == ["a", "b", "c", "r", "s", "packs"]
    assert found[1].follows == ("a",)
    assert found[0].words == "a: 1 → 2 (100 % more)"
    assert found[-1].words == "Packs: none → 3"


@pytest.mark.parametrize(
    ("one", "other", "equal"),
    [
        (5, 5.0, True),
        (1.0, 1.0 + 9e-10, True),
        (1.0, 1.0 + 2e-9, False),
        (0.0, 1e-13, True),
        (0.0, 1e-11, False),
        (None, None, True),
        (None, 0.0, False),
        (True, 1, False),
        (float("nan"), float("nan"), False),
        ("1", 1, False),
        ("a", "a ", False),
        (10**400, 1.0, False),
    ],
)
def test_what_counts_as_the_same(one, other, equal):
    assert same(one, other) is equal
    assert same(other, one) is equal


@pytest.mark.parametrize(
    ("name", "change", "said"),
    [
        ("manifest.json", {"schema": 2}, "manifest.json has schema 2, which is newer than schema 1"),
        ("manifest.json", {"schema": "one"}, 'the unknown schema "one"'),
        ("results.json", {"schema": 7}, "results.json has schema 7, which is newer than schema 2"),
        ("results.json", {"schema": None}, "results.json has no schema number"),
    ],
)
def test_an_unknown_schema_is_said_in_a_sentence(package, reseal, capsys, name, change, said):
    if name == "results.json":
        write_results(package, results_of(package) | change)
        reseal(package)
    else:
        reseal(package, **change)
    assert main(["recheck", "--quick", str(package)]) == 2
    out = capsys.readouterr().out
    assert out.startswith("numbers: UNREADABLE: ")
    assert said in out


@pytest.mark.parametrize(
    "text",
    [
        "{",
        "[1]",
        '{"a": NaN}',
        '{"a": 1e999}' + "]",
        '{"a":' * 100 + "1" + "}" * 100,
        "[" * 100_000,
        '{"a": ' + "9" * 5000 + "}",
        "\ud800",
    ],
)
def test_json_from_anybody_is_refused_in_a_sentence(text):
    with pytest.raises(PackageError, match="cannot be read"):
        parse(text.encode("utf-8", "surrogatepass"))


def test_a_seal_holds_every_byte():
    raw = sealed({"a": 1, "ü": [1.5, None, "x"]}).encode()
    content, wrong = unsealed(raw)
    assert (content["ü"], wrong) == ([1.5, None, "x"], "")
    for place in range(len(raw)):
        for byte in {raw[place] ^ 1, raw[place] ^ 32, 9, 32} - {raw[place]}:
            assert unsealed(raw[:place] + bytes([byte]) + raw[place + 1 :])[1], (place, byte)


def test_inputs_that_this_calc_refuses(package, reseal, edit):
    edit(package / "inputs" / "schedule.csv", "25,32,360,", "25,32,-360,")
    reseal(package)
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("unreadable", 2)
    assert "-360" in verdict.sentence


def test_nothing_of_a_package_is_run(package, reseal, tmp_path):
    """Notebooks that would write a file, and modules named like those that recheck needs.

    In the folder where it is started.
    """
    mark = tmp_path / "ran"
    code = f"open({str(mark)!r}, 'w').write('x')\n"
    for notebook in (package / "notebooks").glob("*.ipynb"):
        cell = {"cell_type": "code", "source": code, "metadata": {}, "outputs": [], "execution_count": None, "id": "a"}
        content = {"cells": [cell], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
        notebook.write_text(json.dumps(content), encoding="utf-8")
    assert content
    for name in ("numpy", "scipy", "openpyxl", "pint", "sitecustomize", "pydantic"):
        (package / f"{name}.py").write_text(code, encoding="utf-8")
    (package / "inputs" / "conftest.py").write_text(code, encoding="utf-8")
    reseal(package)
    done = subprocess.run(
        [sys.executable, "-m", "calc", "recheck", "."],
        cwd=package,
        capture_output=True,
        text=True,
        check=False,
        env=dict(os.environ),
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert done.stdout.startswith("numbers: IDENTICAL")
    assert "numpy.py: is listed in the manifest and is no part of a build" in done.stdout
    assert not mark.exists()


def test_what_if_lists_what_an_input_would_change(package, edit, tmp_path, capsys):
    import shutil

    job = shutil.copytree(package / "inputs", tmp_path / "job")
    edit(job / "schedule.csv", "25,32,360,", "25,32,380,")
    before = {path: path.read_bytes() for path in package.rglob("*") if path.is_file()}
    assert main(["recheck", str(package), "--what-if", str(job)]) == 0
    said = capsys.readouterr().out
    assert "P5, embedment: 360 mm → 380 mm (schedule.csv row 4, embedment)" in said
    assert "01.P5.V_a" in said
    assert "\n  Dose: " in said
    assert before == {path: path.read_bytes() for path in package.rglob("*") if path.is_file()}
    found = what_if(package, job)
    assert [one.name for one in found.inputs] == ["P5.embedment"]
    groups = {change.id for change in found.changes if change.kind == "group"}
    assert groups == {"P5"}


def test_what_if_with_the_same_inputs_says_so(package):
    assert what_if(package, package / "inputs").summary == "Nothing changed: inputs and results are the same."


def test_the_verdict_fits_on_one_page(package, edit, reseal, tmp_path, capsys):
    content = results_of(package)
    for sheet in content["sheets"]:
        for number, step in enumerate(sheet["steps"]):
            step["value"] += 1.0 + number
            step["label"] = "long " * 60
    write_results(package, content)
    reseal(package, calc="0.0.1", versions={f"package-{n}": "1" for n in range(40)})
    assert main(["recheck", "--quick", str(package), "--pdf", str(tmp_path / "verdict.pdf")]) == 1
    info = subprocess.run(["pdfinfo", tmp_path / "verdict.pdf"], capture_output=True, text=True, check=True).stdout
    assert re.search(r"Pages:\s+1\n", info)
    text = subprocess.run(
        ["pdftotext", "-layout", tmp_path / "verdict.pdf", "-"], capture_output=True, text=True, check=True
    ).stdout
    assert "DIFFERS" in text
    assert "first cause" in text
    assert len(capsys.readouterr().out.splitlines()) < 60
    assert main(["recheck", "--quick", str(package), "--pdf", str(package / "verdict.pdf")]) == 2
    assert "lies inside" in capsys.readouterr().err
    assert not (package / "verdict.pdf").exists()


def test_names_from_a_package_cannot_drive_a_terminal(package, reseal):
    assert shown("a\x1b[2Jb\u202ec\n") == "a[U+001B][2Jb[U+202E]c[U+000A]"
    reseal(package, number="\x1b]0;x\x07", revision="\u202eA")
    text = recheck(package, quick=True).text()
    assert all(letter.isprintable() or letter == "\n" for letter in text)


def test_what_is_no_package(tmp_path, capsys):
    assert main(["recheck", "--quick", str(tmp_path / "nowhere")]) == 2
    assert "does not exist" in capsys.readouterr().out
    assert main(["recheck", "--quick", str(tmp_path)]) == 2
    assert "has no manifest.json" in capsys.readouterr().out
    (tmp_path / "a.zip").write_bytes(b"PK")
    assert main(["recheck", "--quick", str(tmp_path / "a.zip")]) == 2
    assert "unpack it" in capsys.readouterr().out


def test_recheck_itself_computes(package, monkeypatch):
    """The verdict must come from a computation: with another compute, it is another verdict."""
    true = module.compute

    def other(job):
        results = true(job)
        text = results.text().replace('"holes": ', '"holes": 1')
        kept = {name: getattr(results, name) for name in ("parts", "part", "use")}
        return type("Other", (), {"text": lambda _: text, **kept})()

    monkeypatch.setattr(module, "compute", other)
    verdict = recheck(package, quick=True)
    assert verdict.word == "differs"
    assert verdict.changes[0].id == "holes"


@pytest.mark.parametrize(("key", "said"), [("number", "OTHER-9"), ("revision", "Z")])
def test_a_manifest_that_calls_the_package_otherwise_is_found(package, reseal, key, said):
    reseal(package, **{key: said})
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert f"says {key} {said}" in verdict.sentence


def test_a_verdict_is_not_written_into_any_package(package, tmp_path, capsys):
    other = shutil.copytree(package, tmp_path / "other")
    assert main(["recheck", "--quick", str(package), "--pdf", str(other / "inputs" / "v.pdf")]) == 2
    assert "lies inside the package" in capsys.readouterr().err
    assert main(["recheck", "--quick", str(package), "--pdf", str(tmp_path / "nowhere" / "v.pdf")]) == 2
    assert "does not exist" in capsys.readouterr().err


def test_another_font_is_named_as_what_differs(package, reseal):
    fonts = json.loads((package / "manifest.json").read_text(encoding="utf-8"))["fonts"]
    assert "NotoSansCJK-Regular.ttc" in fonts
    reseal(package, fonts=fonts | {"NotoSansCJK-Regular.ttc": "0" * 64})
    told = [one.words for one in recheck(package, quick=True).versions]
    assert len(told) == 1
    assert "font NotoSansCJK-Regular.ttc" in told[0]
    assert fonts["NotoSansCJK-Regular.ttc"][:16] in told[0]


def test_an_input_in_a_folder_is_carried_under_its_place(package, edit, recomputed, reseal):
    rows = package / "inputs" / "rows"
    rows.mkdir()
    (package / "inputs" / "schedule.csv").rename(rows / "schedule.csv")
    edit(package / "inputs" / "job.toml", 'file = "schedule.csv"', 'file = "rows/schedule.csv"')
    recomputed(package)
    pdf = package / "calculation.pdf"
    kept = pdf.read_bytes()
    assert "is what the package holds" in recheck(package, quick=True).documents.sentence
    # Those made before carried it by its name alone, and are read as well.
    for name, said in (
        (b"schedule.csv", "What calculation.pdf carries is what the package holds"),
        (b"other/schedule.csv", "it does not carry schedule.csv"),
    ):
        pdf.write_bytes(kept.replace(b"(rows/schedule.csv)", b"(" + name + b")"))
        (package / "hand-check.pdf").write_bytes(b"another stand-in")
        reseal(package)
        assert said in recheck(package, quick=True).text()
