"""The house rules: imports run downwards, lint and types are clean, formulas are documented, typeset and named."""

import ast
import graphlib
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from formulasamples import sample
from numpydoc.docscrape import NumpyDocString

import calc
from calc.base import maths
from calc.base.errors import CalcError
from calc.base.formula import DeclarationError
from calc.base.nomenclature import NOMENCLATURE, latex_of
from calc.package.typesetting import FILE, every_formula, templates_text

ROOT = Path(__file__).resolve().parents[1]
# From the ground up; rooms on one floor do not import each other.
FLOORS = (
    ("base",),
    ("fill",),
    ("scatter",),
    ("evidence",),
    ("strength",),
    ("files",),
    ("work",),
    ("show",),
    ("package",),
    ("review", "lesson"),
    ("firstpage",),
    ("cli",),
)
MOST_MODULES = 15


def modules():
    return sorted(m.name for m in pkgutil.walk_packages(calc.__path__, "calc.") if m.name != "calc.__main__")


ALL = every_formula()


def imports_of(path: Path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inner = ROOT.joinpath(*node.module.split("."), alias.name)
                module = inner.with_suffix(".py").exists() or inner.is_dir()
                yield f"{node.module}.{alias.name}" if module else node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def sources():
    """Every module of the workbook by its dotted name, with the modules that it imports, anywhere in it."""
    found = {}
    for path in (ROOT / "calc").rglob("*.py"):
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        found[name] = {other for other in imports_of(path) if other.startswith("calc.")}
    return found


def test_imports_run_downwards():
    floor = {room: i for i, rooms in enumerate(FLOORS) for room in rooms}
    wrong = []
    for name, others in sources().items():
        room = name.partition(".")[2].partition(".")[0]
        for other in others:
            below = other.split(".")[1]
            if room in floor and below != room and not floor[below] < floor[room]:
                wrong.append(f"{name} imports {other}")
    assert not wrong


def test_no_circle_of_files():
    order = graphlib.TopologicalSorter({name: others - {name} for name, others in sources().items()})
    order.prepare()  # raises CycleError with the circle


def test_every_room_is_on_a_floor_and_says_what_it_holds():
    rooms = {path.parent for path in (ROOT / "calc").rglob("*.py")} - {ROOT / "calc"}
    assert {room.relative_to(ROOT / "calc").parts[0] for room in rooms} | {"cli"} == {
        r for rooms in FLOORS for r in rooms
    }
    for room in rooms:
        assert len(list(room.glob("*.py"))) <= MOST_MODULES, f"{room} is too full"
        assert ast.get_docstring(ast.parse((room / "__init__.py").read_text(encoding="utf-8"))), room


# What the showing rooms may take from those that compute: results to be read, words to be quoted. No formula, no
# function.
RESULTS = {
    "Filling",
    "ConfidenceRow",
    "ConfidenceTable",
    "Limit",
    "NormalPlot",
    "LossRow",
    "SeriesCount",
    "SeriesRisk",
    "Swing",
    "WayResult",
}
QUOTED = {
    "ACI",
    "ASSUMPTION",
    "CODES",
    "EN04",
    "EN23",
    "NOT_AN_ASSESSMENT",
    "NOT_CONFORMING",
    "SHARE_SCORES",
    "SOURCE",
    "STATES",
}


def test_pictures_draw_results():
    """Whoever draws or tells reads results; what is computed, is computed below."""
    wrong = []
    shown = [path for room in ("show", "review") for path in (ROOT / "calc" / room).rglob("*.py")]
    for path in shown:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            rooms = [node.module] if isinstance(node, ast.ImportFrom) and node.module else []
            if isinstance(node, ast.Import):
                rooms = [alias.name for alias in node.names]
            if not any(
                room.split(".")[:2] in (["calc", name] for name in ("fill", "scatter", "evidence", "strength"))
                for room in rooms
            ):
                continue
            names = {alias.name for alias in node.names} - RESULTS - QUOTED
            wrong += [f"{path.relative_to(ROOT)} takes {name} from {rooms[0]}" for name in sorted(names)]
    assert not wrong


def test_no_alt_text_is_read_back():
    """An alt text is written for people: nothing looks for words in it."""
    for path in (ROOT / "calc").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Compare) and any(isinstance(op, ast.In | ast.NotIn) for op in node.ops):
                texts = [one for one in node.comparators if isinstance(one, ast.Attribute | ast.Name)]
                assert not any(getattr(one, "attr", getattr(one, "id", "")) == "alt" for one in texts), (
                    f"{path.name}, line {node.lineno}"
                )


def test_every_refusal_has_one_root():
    """What is caught and told is a CalcError.

    A formula that is declared wrong is a bug of ours, found when it is imported.
    """
    for name in modules():
        for one in vars(importlib.import_module(name)).values():
            if (
                inspect.isclass(one)
                and issubclass(one, BaseException)
                and one.__module__ == name
                and one is not CalcError
            ):
                assert issubclass(one, CalcError) != (one is DeclarationError), f"{name}.{one.__name__}"


# What may be raised besides: a bug, which nobody can put right at the keyboard.
BUGS = {
    "calc/base/collector.py": "two steps of one id, or a value that is another one in the chain",
    "calc/files/typed.py": "a place without a key",
    "calc/package/document/document.py": "a block that no view makes",
    "calc/package/document/markup.py": "a node that the converter does not make",
    "calc/package/document/numbering.py": "a row that does not fit its own table",
    "calc/package/manifest.py": "caught in the next line, where JSON is read",
    "calc/show/dose/figures.py": "a direction or units that the job file would have refused",
    "calc/work/site/findings.py": "a kind of finding that there is not",
}


def test_a_refusal_is_of_our_own_kind():
    found = set()
    for path in (ROOT / "calc").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            raised = node.exc.func if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) else None
            if isinstance(raised, ast.Name) and raised.id in BROAD:
                found.add(path.relative_to(ROOT).as_posix())
                assert found <= set(BUGS), (
                    f"{path.name}, line {node.lineno}: raise NotAccepted, NotListed or a CalcError of its own"
                )
    assert found == set(BUGS)


# Handlers above base that catch what a bug raises as well: each stands around one call into a library, or tells nobody.
BROAD = {
    "ArithmeticError",
    "AssertionError",
    "AttributeError",
    "BaseException",
    "Exception",
    "KeyError",
    "LookupError",
    "RuntimeError",
    "TypeError",
    "ValueError",
}
WRAPPED = {
    "calc/scatter/accepted.py": "numpy makes an array of what a caller gave",
    "calc/evidence/readings.py": "numpy makes an array of what a caller gave",
    "calc/files/schedule.py": "openpyxl raises whatever a damaged workbook makes it trip over",
    "calc/files/notes/pictures.py": "Pillow raises whatever a damaged picture makes it trip over",
    "calc/files/strict.py": "a path with a zero byte",
    "calc/work/load.py": "a path with a zero byte; one value of the job file, read before the file is judged",
    "calc/work/site/cells.py": "datetime.date",
    "calc/review/review.py": "the bare expression of a formula, moved by its rounding to where it has no result",
    "calc/review/signing.py": "date.fromisoformat",
    "calc/review/signoff.py": "date.fromisoformat, twice",
    "calc/show/plan/panel.py": "date.fromisoformat",
    "calc/firstpage/entries.py": "date.fromisoformat",
    "calc/package/document/pdf.py": "date.fromisoformat",
    "calc/package/manifest.py": "json.loads",
    "calc/package/contents.py": "a file from anybody: what it makes zipfile and the readers of XML and HTML trip over",
    "calc/package/document/pdftext.py": "a PDF from anybody, read by few rules: what stands in another thing's place",
    "calc/package/notebooks.py": "nbformat raises whatever a damaged notebook makes it trip over",
    "calc/package/spreadsheet.py": "datetime.fromisoformat",
    "calc/package/place.py": "a call of the operating system that may not exist; the slower way is taken instead",
    "calc/show/panel.py": "a bug is told as a fault of the workbook, and raised",
    "calc/cli.py": "a bug is told as a fault of the workbook, with its traceback",
}


def test_no_bug_is_told_as_the_users_mistake():
    found = set()
    for path in (ROOT / "calc").rglob("*.py"):
        place = path.relative_to(ROOT).as_posix()
        if place.startswith("calc/base/"):
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Try):
                continue
            for handler in node.handlers:
                kinds = (
                    {one.id for one in ast.walk(handler.type) if isinstance(one, ast.Name)}
                    if handler.type
                    else {"BaseException"}
                )
                if kinds & BROAD and not _cleans_up(handler):
                    found.add(place)
                    assert place in WRAPPED, (
                        f"{place}, line {handler.lineno}: catches {', '.join(sorted(kinds & BROAD))}"
                    )
    assert found == set(WRAPPED)


def _cleans_up(handler: ast.ExceptHandler) -> bool:
    """Whether a handler says nothing and raises what it caught."""
    last = handler.body[-1]
    return handler.name is None and isinstance(last, ast.Raise) and last.exc is None and len(handler.body) <= 2


@pytest.mark.parametrize(("library", "home"), [("pint", "units.py"), ("handcalcs", "formula.py")])
def test_a_library_has_one_home(library, home):
    users = {p.name for p in (ROOT / "calc").rglob("*.py") if any(n.split(".")[0] == library for n in imports_of(p))}
    assert users == {home}


# Public names that more than one room defines, and why they may.
SAME_WORD = {
    "a table of the job file, and what is computed from it": {"Chosen", "Judgement", "Step", "Values", "Way"},
    "a kind of field of the files, and what a lower room calls a class or a type": {
        "Code",
        "Holes",
        "Note",
        "Part",
        "Row",
    },
    "a picture's or a page's word for what is drawn of a result of that name": {
        *(
            "DIRECTIONS",
            "Point",
            "cautions",
            "days",
            "design",
            "dust",
            "filled",
            "limits",
            "run_order",
            "steps_of",
            "strokes",
            "summary",
        ),
    },
    "a formula's own source, said where the formula stands": {"GEOMETRY"},
    "a word of the trade with two meanings, each in its own room": {"Limits", "Outcome", "TableError", "outcome"},
    "the lesson's own, which imports no room that has the other": {"CONCRETE", "STAGES"},
    "what a notice or an input says, and what a panel or a file is called": {"JOB_FILE", "TYPED"},
    "small words of one module each": {"KINDS", "Verdict", "choose", "joined", "percent", "plain"},
}


def test_a_public_name_is_defined_in_one_room_only():
    """A name that is the same word for different things is found by nobody.

    Make it private, or call it by its full name.
    """
    rooms: dict[str, set[str]] = {}
    for path in (ROOT / "calc").rglob("*.py"):
        room = path.relative_to(ROOT / "calc").with_suffix("").parts[0]
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            targets = (
                node.targets
                if isinstance(node, ast.Assign)
                else [node.target]
                if isinstance(node, ast.AnnAssign)
                else []
            )
            names = {part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)}
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                names = {node.name}
            for name in names:
                rooms.setdefault(name, set()).add(room)
    twice = {name: sorted(where) for name, where in rooms.items() if len(where) > 1 and not name.startswith("_")}
    known = set().union(*SAME_WORD.values())
    assert not {name: where for name, where in twice.items() if name not in known}
    assert known <= set(twice), "the list holds names that stand in one room only"


SYSTEMS = {"metric", "us"}
UNITS = re.compile(r"(?<![A-Za-z])(mm|mL|MPa|kN|psi|kip|in[²³]|°[CF])(?![A-Za-z])")


def _names_a_system(node):
    return any(isinstance(part, ast.Constant) and part.value in SYSTEMS for part in ast.walk(node))


def _asks_which_units(node):
    """Whether a node chooses by the system of units.

    Compares with its name or with a display, matches it, or looks it up.
    """
    if isinstance(node, ast.Compare):
        return _names_a_system(node) or any(
            isinstance(part, ast.Name) and part.id == "METRIC" for part in ast.walk(node)
        )
    if isinstance(node, ast.match_case):
        return _names_a_system(node.pattern)
    return isinstance(node, ast.Dict) and any(key is not None and _names_a_system(key) for key in node.keys)


def _converts_in_a_text(node):
    """Whether a node is a call of `re` whose pattern names a unit.

    What finds units in a text is about to rewrite it.
    """
    if not (
        isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and getattr(node.func.value, "id", "") == "re"
    ):
        return False
    return any(
        isinstance(p, ast.Constant) and isinstance(p.value, str) and UNITS.search(p.value)
        for p in ast.walk(node.args[0])
    )


@pytest.mark.parametrize(
    ("seen", "source"),
    [
        (True, "x = 1 if job.units == 'us' else 2"),
        (True, "x = units in ('metric',)"),
        (True, "x = {'us': 1, 'metric': 2}[units]"),
        (True, "x = display is METRIC"),
        (True, "match units:\n    case 'us' | 'si':\n        pass"),
        (False, "def f(units: Literal['metric', 'us'] = 'metric'):\n    return Display('us')"),
    ],
)
def test_a_switch_by_units_is_seen(seen, source):
    assert any(_asks_which_units(node) for node in ast.walk(ast.parse(source))) is seen


def test_which_units_is_asked_in_one_place():
    """`Display` knows the units; the lesson's deck has a switch of its own for the class."""
    found = []
    for path in sorted((ROOT / "calc").rglob("*.py")):
        if path.relative_to(ROOT).as_posix() in ("calc/base/display.py", "calc/lesson/projector.py"):
            continue
        tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        found += [
            f"{path.relative_to(ROOT)}:{node.lineno}"
            for node in tree
            if hasattr(node, "lineno") and _asks_which_units(node)
        ]
    assert not found, "turn the quantity into text with a Display"


def test_no_sentence_is_converted():
    """A sentence is built from quantities.

    One that is searched for units was rounded before, or says them of something else.
    """
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in sorted((ROOT / "calc").rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if _converts_in_a_text(node)
    ]
    assert not found, "build the sentence from quantities with a Display"
    assert any(_converts_in_a_text(node) for node in ast.walk(ast.parse(r"re.sub(r'(\d+) mm\b', f, text)")))


def test_top_level_is_as_agreed():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split(
        "\n"
    )
    tops = {line.split("/")[0] for line in listed if line and not line.startswith(".")}
    assert tops <= {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "notebooks", "calc", "tests", "exports"}


def test_every_source_can_be_opened_or_is_from_memory():
    """A reader who wants to see the source finds its name, or is told that there is none."""
    unnamed = ("project reference", "reference.md", "secondary source", "reference, section")
    looked_at = {*(ROOT / "calc").rglob("*.*"), *(ROOT / "tests").rglob("*.py")} - {Path(__file__).resolve()}
    wrong = [
        f"{path.relative_to(ROOT)}: {words}"
        for path in sorted(looked_at)
        if path.suffix in (".py", ".csv", ".toml", ".json", ".typ", ".md")
        for words in unnamed
        if words in " ".join(path.read_text(encoding="utf-8").split()).lower()
    ]
    assert wrong == []


def test_lint():
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "."], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout


def test_types():
    done = subprocess.run([sys.executable, "-m", "mypy"], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_there_are_formulas_to_test():
    assert len(ALL) >= 20


def test_the_kept_templates_are_what_handcalcs_makes():
    assert FILE.read_text(encoding="utf-8") == templates_text(), "run: bonded-bar-workbook refresh"


@pytest.mark.parametrize("formula", ALL, ids=lambda f: f.id)
def test_nomenclature_holds_every_name(formula):
    assert {*formula.parameters, formula.symbol} <= set(NOMENCLATURE)


@pytest.mark.parametrize("formula", ALL, ids=lambda f: f.id)
def test_help_says_what_goes_in_what_comes_out_and_what_is_refused(formula):
    """What was declared is what is read, by a reader of docstrings that is not ours.

    What the author wrote is still there.
    """
    doc = NumpyDocString(formula.__doc__)
    assert doc["Summary"] == [formula.summary]
    assert formula.source in " ".join(doc["Extended Summary"])
    named = {entry.name: (entry.type, " ".join(entry.desc)) for entry in doc["Parameters"]}
    assert list(named) == list(formula.parameters)
    for name, unit in formula.parameters.items():
        kind, said = named[name]
        assert kind.endswith(f" [{unit or '-'}]")
        assert said.startswith(NOMENCLATURE[name][1])
        assert name not in formula.limits or "accepted: {:g} to {:g}".format(*formula.limits[name]) in said
    (result,) = doc["Returns"]
    assert (result.name, result.type.endswith(f" [{formula.unit or '-'}]")) == (formula.symbol, True)
    refused = " ".join(line for entry in doc["Raises"] for line in entry.desc)
    assert bool(refused) == bool(formula.limits or formula.relations)
    assert all(f"``{name}``" in refused for relation in formula.relations for name in relation.split()[::2])
    for title in NumpyDocString(inspect.cleandoc(formula.function.__doc__)):
        if title in ("Notes", "Examples", "References"):
            assert doc[title] == NumpyDocString(inspect.cleandoc(formula.function.__doc__))[title]


# A small reader of the LaTeX that is shown, independent of the expression it was made from.
def _evaluate_latex(text: str, values: dict[str, float]) -> float:
    for latex, name in sorted(((latex_of(n), n) for n in values), key=lambda p: -len(p[0])):
        text = re.sub(r"(?<![A-Za-z\\])" + re.escape(latex) + r"(?![A-Za-z_])", f" ⟨{name}⟩ ", text)
    text = re.sub(r"\^\{\\circ\}|\\mathrm\{[^}]*\}(\^\{[23]\})?|\\ ", " ", text)
    tokens = re.findall(r"⟨\w+⟩|\\[A-Za-z]+|\d+(?:\.\d+)?|[{}^()+\-,]", text)
    position = 0

    def peek():
        return tokens[position] if position < len(tokens) else None

    def take(expected=None):
        nonlocal position
        token = tokens[position]
        assert expected is None or token == expected, f"{token} where {expected} was expected in {text}"
        position += 1
        return token

    def group():
        take("{")
        value = total()
        take("}")
        return value

    def bracket():
        if peek() == "\\left":
            take()
        opening = take()
        value = [total()]
        while peek() == ",":
            take()
            value.append(total())
        if peek() == "\\right":
            take()
        take({"(": ")", "\\lceil": "\\rceil"}[opening])
        return value

    def atom():
        token = peek()
        if token == "{":
            return group()
        if token in ("(", "\\left"):
            ceiling = token == "\\left" and tokens[position + 1] == "\\lceil"
            value = bracket()
            return maths.ceil(value[0]) if ceiling else value[0]
        take()
        if token.startswith("⟨"):
            return values[token[1:-1]]
        if token == "\\pi":
            return maths.pi
        if token == "\\frac":
            top = group()
            return top / group()
        if token == "\\sqrt":
            return group() ** 0.5
        if token == "\\operatorname":
            raise AssertionError(f"unread function in {text}")
        if token in ("\\max", "\\min", "\\tan", "\\sin", "\\cos", "\\ln", "\\exp"):
            return maths.FUNCTIONS[{"\\ln": "log"}.get(token, token[1:])](*bracket())
        return float(token)

    def power():
        value = atom()
        if peek() == "^":
            take()
            value = value ** atom()
        return value

    def product():
        value = power()
        while peek() == "\\cdot" or (peek() not in (None, "+", "-", ",", "}", ")", "\\right")):
            if peek() == "\\cdot":
                take()
            value *= power()
        return value

    def total():
        sign = -1.0 if peek() == "-" else 1.0
        if peek() in ("-", "+"):
            take()
        value = sign * product()
        while peek() in ("+", "-"):
            value = value + product() if take() == "+" else value - product()
        return value

    result = total()
    assert position == len(tokens), f"left over {tokens[position:]} in {text}"
    return float(result)


@pytest.mark.parametrize("formula", ALL, ids=lambda f: f.id)
def test_what_is_typeset_is_what_ran(formula):
    for seed in range(3):
        values = sample(formula, seed)
        result = float(formula(**values))
        latex = formula.latex(
            {n: f"{v:g}" if v >= 0 else rf"\left( {v:g} \right)" for n, v in values.items()}, "7", None
        )
        parts = latex.removeprefix("\\begin{aligned}").removesuffix("\\end{aligned}").replace(r"\\", "").split("&=")
        assert len(parts) == 4, latex
        assert _evaluate_latex(parts[1], values) == pytest.approx(result, rel=1e-9, abs=1e-9)
        assert _evaluate_latex(parts[2], {}) == pytest.approx(result, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("formula", ALL, ids=lambda f: f.id)
def test_arrays_give_what_floats_give(formula):
    samples = [sample(formula, seed) for seed in range(4)]
    arrays = {name: np.array([s[name] for s in samples]) for name in formula.parameters}
    np.testing.assert_allclose(formula(**arrays), [formula(**s) for s in samples], rtol=1e-12)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_printed_arithmetic_can_be_redone(units):
    """Whoever keys in the printed digits of a step lands within the last printed digit of its result."""
    from calc.files.job import demo_job
    from calc.work.load import load_job
    from calc.work.results import compute

    steps = compute(load_job(demo_job(units))).sheet.steps
    assert len(steps) > 60
    for step in steps:
        lines = (
            step.latex.removeprefix("\\begin{aligned}").removesuffix("\\end{aligned}").replace(r"\\", "").split("&=")
        )
        printed = re.match(r"\s*(\d+(?:\.(\d+))?)", lines[3])
        last = 10.0 ** -len(printed[2] or "")
        assert abs(_evaluate_latex(lines[2], {}) - float(printed[1])) <= last, f"{step.id}: {step.latex}"


# NumPy works these by other instructions on another processor, or hands them to BLAS and LAPACK, whose order of adding
# depends on it.
UNSTEADY = {
    "exp",
    "exp2",
    "expm1",
    "log",
    "log2",
    "log10",
    "log1p",
    "power",
    "float_power",
    "cbrt",
    "sin",
    "cos",
    "tan",
    "arcsin",
    "arccos",
    "arctan",
}
UNSTEADY |= {
    "arctan2",
    "sinh",
    "cosh",
    "tanh",
    "dot",
    "vdot",
    "inner",
    "matmul",
    "einsum",
    "linalg",
    "cov",
    "corrcoef",
    "polyfit",
    "convolve",
}
COMPUTING = ("base", "fill", "scatter", "evidence", "strength", "files", "work")


def test_results_do_not_depend_on_the_processor():
    found = []
    for path in (path for room in COMPUTING for path in (ROOT / "calc" / room).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            own = (
                isinstance(node, ast.Attribute)
                and isinstance(node.value, ast.Name)
                and node.value.id == "np"
                and node.attr in UNSTEADY
            )
            if own or (isinstance(node, ast.BinOp) and isinstance(node.op, ast.MatMult)):
                found.append(f"{path.relative_to(ROOT)}, line {node.lineno}")
    assert not found, "use calc.base.maths, a sum of products, or scipy.special"


# Regular expressions in the rooms that show, package and review: how many a file may have, and what they read. None
# reads an id, a notice or
# another sentence of this workbook: what such a text would say stands beside it as data (notebook, mark, name, step,
# verdict).
SHOWING = ("show", "package", "review")
REGEX = {
    "show/drawing.py": (4, "matplotlib's SVG: its size and metadata are taken off, its texts say how long they are"),
    "show/evidence/panel.py": (
        3,
        "what people type into fields, the note in a cell of their schedule, and a mark as a file's name",
    ),
    "show/overfill/panel.py": (1, "what people type into a field"),
    "package/manifest.py": (1, "names of files"),
    "package/contents.py": (1, "numbers in a picture's SVG"),
    "package/takennotes.py": (1, "what people type into a cell: a picture"),
    "package/xlsx.py": (1, "letters that a workbook forbids"),
    "package/document/markup.py": (6, "pandoc's output, LaTeX and addresses of links"),
    "package/document/pdftext.py": (7, "the syntax of a PDF"),
    "package/document/html.py": (1, "the width of a picture's SVG"),
    "package/document/pdf.py": (1, "stand-ins for letters that do not print, which are counted"),
    "review/companion.py": (1, "names of files"),
}
_COMPILING = {"compile", "search", "match", "fullmatch", "split", "findall", "finditer", "sub", "subn"}


def test_no_regular_expression_reads_an_id_or_a_sentence():
    found = {}
    for path in (path for room in SHOWING for path in (ROOT / "calc" / room).rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        assert not [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module == "re"], (
            f"{path}: import re whole, so that it is seen"
        )
        calls = [
            node.func
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _COMPILING
        ]
        number = sum(isinstance(one.value, ast.Name) and one.value.id == "re" for one in calls)
        if number:
            found[path.relative_to(ROOT / "calc").as_posix()] = number
    assert found == {name: number for name, (number, _) in REGEX.items()}, (
        "say here what a new one reads, or take it out of the list"
    )


# Methods that take a text apart, and what is told and never taken apart.
_TAKING_APART = {
    "partition",
    "rpartition",
    "split",
    "rsplit",
    "startswith",
    "endswith",
    "removeprefix",
    "removesuffix",
    "find",
    "index",
    "rfind",
    "rindex",
}
_TOLD = {"id", "identity", "origin", "title", "notice", "sentence", "words"}


def _named(node):
    """The name of what a method is called on: an attribute, an entry, a variable, or one of these as text."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "str" and node.args:
        return _named(node.args[0])
    if isinstance(node, ast.Attribute):
        return node.attr
    if isinstance(node, ast.Subscript) and isinstance(node.slice, ast.Constant):
        return node.slice.value
    return node.id if isinstance(node, ast.Name) else None


def test_what_is_told_is_not_taken_apart():
    found = []
    for path in (ROOT / "calc").rglob("*.py"):
        # Schema 1 told by ids and sentences alone what belongs to what.
        if "base" in path.parts or path.name == "schema1.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and node.func.attr in _TAKING_APART
                and _named(node.func.value) in _TOLD
            ):
                found.append(f"{path.relative_to(ROOT)}, line {node.lineno}: {ast.unparse(node)[:80]}")
    assert not found
