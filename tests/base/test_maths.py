"""A translated formula gives what it gives here: every formula, worked by LibreOffice and by node."""

import json
import shutil
import subprocess

import pytest
import xlsxwriter
from formulasamples import sample
from office import NEEDS_OFFICE, recalculated

from calc.base.maths import JAVASCRIPT, SPREADSHEET, translate
from calc.package.typesetting import every_formula

ALL = every_formula()
SEEDS = range(20)
# Quotients that are whole but for their last bits, and one below nought.
BY_ID = {one.id: one for one in ALL}
EDGES = [
    (BY_ID["graduations"], {"V_dose": dose, "graduation": graduation})
    for dose, graduation in ((2.1, 0.7), (0.3, 0.1), (7.0, 7.0), (7.0 + 1e-6, 7.0), (1e9 + 0.5, 1.0))
] + [(BY_ID["holes_per_pack"], {"V_max": most, "V_round": dose}) for most, dose in ((2.1, 0.7), (5.5, 1.0), (0.5, 1.0))]
CASES = [(one, sample(one, seed)) for one in ALL for seed in SEEDS] + EDGES


def test_signs_and_powers_keep_their_brackets():
    names = {one: one for one in "abc"}
    for expression, cells, script in (
        ("-a ** 2 + b", "(-(a^2))+b", "(-(a**2))+b"),
        ("(-a) ** 2", "(-a)^2", "(-a)**2"),
        ("a ** b ** c", "a^(b^c)", "a**(b**c)"),
        ("(a ** b) ** c", "(a^b)^c", "(a**b)**c"),
        ("a - (b - c) - 1", "a-(b-c)-1", "a-(b-c)-1"),
        ("a / (b * c) / (b / c)", "a/(b*c)/(b/c)", "a/(b*c)/(b/c)"),
        ("a * (b + -c)", "a*(b+(-c))", "a*(b+(-c))"),
        ("max(a, min(b, c) / 2)", "MAX(a,MIN(b,c)/2)", "Math.max(a,Math.min(b,c)/2)"),
    ):
        assert translate(expression, names, SPREADSHEET) == cells
        assert translate(expression, names, JAVASCRIPT) == script


@NEEDS_OFFICE
def test_a_spreadsheet_computes_every_formula(tmp_path):
    """Each at twenty points; the file claims that every result is nought, so none of its numbers can pass."""
    book = xlsxwriter.Workbook(tmp_path / "formulas.xlsx")
    sheet = book.add_worksheet()
    expected = []
    for row, (formula, values) in enumerate(CASES):
        sheet.write_row(row, 1, values.values())
        cells = {name: xlsxwriter.utility.xl_rowcol_to_cell(row, 1 + place) for place, name in enumerate(values)}
        sheet.write_formula(row, 0, "=" + translate(formula.expression, cells, SPREADSHEET), value=0)
        expected.append((formula.id, float(formula(**values))))
    book.close()
    (found,) = recalculated([tmp_path / "formulas.xlsx"], tmp_path / "out")
    results = [cell.value for cell in found.worksheets[0]["A"]]
    wrong = [
        (name, value, result)
        for (name, value), result in zip(expected, results, strict=True)
        if result != pytest.approx(value, rel=1e-12, abs=1e-12)
    ]
    assert not wrong


@pytest.mark.skipif(not shutil.which("node"), reason="node is not installed: nothing runs JavaScript here")
def test_javascript_computes_every_formula():
    lines = [
        f"(({{{', '.join(values)}}}) => {translate(one.expression, {name: name for name in values}, JAVASCRIPT)})"
        f"({json.dumps(values)})"
        for one, values in CASES
    ]
    script = "process.stdout.write(JSON.stringify([\n" + ",\n".join(lines) + "\n]))"
    done = subprocess.run(["node", "-"], input=script, capture_output=True, text=True, check=True)
    expected = [float(one(**values)) for one, values in CASES]
    assert json.loads(done.stdout) == pytest.approx(expected, rel=1e-12, abs=1e-12)
