"""The lesson's handouts: what stands on the pages is what calc computes and what the lesson says."""

import os
import re
import subprocess
import sys

import pytest

from calc import cli
from calc.base.display import Display
from calc.base.units import convert
from calc.fill.hole import annular_volume, required_volume
from calc.fill.level import full_fraction, surface_depth
from calc.lesson import classroom, handouts, numbers
from calc.lesson.exercises import CLOSE, exercises, result_sheet
from calc.lesson.handouts import (
    HandoutError,
    apprentice,
    common_pairs,
    minutes,
    screen_lines,
    trainer,
    write_handouts,
)
from calc.lesson.projector import SCENES, Lesson
from calc.lesson.scene import percent
from calc.lesson.texts import Texts, languages
from calc.package.lists.setting import compile_list

SYSTEMS = ["metric", "us"]


def text_of(path):
    said = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True).stdout.decode()
    return " ".join(said.replace("\u00a0", " ").split())


def tight(text):
    """Without spaces, as columns and line ends move them."""
    return re.sub(r"\s+", "", text)


@pytest.fixture(scope="module", params=SYSTEMS)
def made(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    return request.param, write_handouts(units=request.param, seed=4, out=folder)


def every_text(value):
    """All strings of a page's data, but for pictures and equations."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, item in value.items():
            if key not in ("svg", "typst", "latex"):
                yield from every_text(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            yield from every_text(item)


# ---- files ---------------------------------------------------------------------------------------


def test_both_files_are_made_with_the_paper_of_the_units(made):
    system, (sheet, notes) = made
    assert [sheet.name, notes.name] == [f"apprentice-{system}.pdf", f"trainer-{system}.pdf"]
    assert sorted(path.name for path in sheet.parent.iterdir()) == [sheet.name, notes.name]
    for path, pages in ((sheet, range(2, 3)), (notes, range(3, 7))):
        said = subprocess.run(["pdfinfo", str(path)], capture_output=True, check=True).stdout.decode()
        assert int(re.search(r"Pages: +(\d+)", said)[1]) in pages
        assert [round(float(n)) for n in re.search(r"Page size: +([\d.]+) x ([\d.]+)", said).groups()] == (
            [612, 792] if system == "us" else [595, 842]
        )
        body = path.read_bytes()
        assert re.search(rb"pdfaid:part>3<.*?pdfaid:conformance>A<", body, re.DOTALL)
        assert b"pdfuaid:part>1<" in body


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("system", SYSTEMS)
def test_the_sheet_has_two_pages_in_every_language(system, language):
    assert compile_list(handouts.TEMPLATE, apprentice(Lesson(system, language)))[1] == 2


@pytest.mark.parametrize("seed", [1, 5, 12])
@pytest.mark.parametrize("system", SYSTEMS)
def test_no_page_of_the_notes_is_nearly_empty(system, seed, tmp_path):
    """The answers stand on the last page alone, and every page before it is used."""
    path = tmp_path / "notes.pdf"
    path.write_bytes(compile_list(handouts.TEMPLATE, trainer(Lesson(system, seed=seed)))[0])
    pages = (
        subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
        .stdout.decode()
        .split("\f")[:-1]
    )
    assert [f"Exercises of class number {seed}" in page for page in pages] == [False] * (len(pages) - 1) + [True]
    assert min(len([line for line in page.splitlines() if line.strip()]) for page in pages) > 25


@pytest.mark.parametrize("make", [apprentice, trainer])
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("system", SYSTEMS)
def test_no_place_is_left_empty(make, system, language):
    for text in every_text(make(Lesson(system, language))):
        assert not re.search(r"[{}]|\bnan\b|\binf\b|None", text), text


# ---- the apprentice's sheet ----------------------------------------------------------------------


def test_the_worked_example_is_the_lessons_own(made):
    system, (sheet, _) = made
    pair = numbers.examples(system).main
    step = numbers.ring_steps(pair, system, "x")[-1]
    assert step.value == annular_volume(d_0=pair.d_0, phi=pair.phi, l_v=pair.l_v)
    said = text_of(sheet)
    result = step.shown.partition(" (")[0]
    assert result.split()[0] in said
    assert (
        result == {"metric": "22.619 mL", "us": "0.59840 fl oz"}[system]
    )  # π/4 (20² − 16²) 200 and π/4 (0.75² − 0.625²) 8
    for part in vars(numbers.ring(pair)).values():
        assert Display(system).volume(part) in said
    assert apprentice(Lesson(system))["equation"]["latex"] == step.latex


def test_every_symbol_of_the_formula_is_said_in_words(made):
    system, (sheet, _) = made
    step = numbers.ring_steps(numbers.examples(system).main, system, "x")[-1]
    said = text_of(sheet)
    for name in (step.symbol, *(given.name for given in step.inputs)):
        words = Texts().say(f"symbols.{name}").partition(": ")[2]
        assert len(words) > 10
        assert said.count(words) == 1, name
    assert "the number of the circle" in said
    assert r"\pi" in step.latex


def test_the_table_is_calc_fill(made):
    system, (sheet, _) = made
    pairs, rows = common_pairs(system), apprentice(Lesson(system))["rows"]
    said = text_of(sheet)
    assert len(pairs) == len(rows) >= 8
    assert numbers.examples(system).main in pairs
    assert numbers.examples(system).small in pairs
    for pair, row in zip(pairs, rows, strict=True):
        cells = [cell["t"] for cell in row]
        needed = required_volume(d_0=pair.d_0, phi=pair.phi, l_v=pair.l_v)
        share = full_fraction(d_0=pair.d_0, phi=pair.phi)
        assert cells[1:5] == [
            Display(system).size(pair.d_0),
            Display(system).size(pair.l_v),
            percent(share),
            Display(system).length(surface_depth(V=needed, x=0.0, **pair.size)),
        ]
        assert cells[5].startswith(Display(system).volume(needed))
        if system == "us":
            assert float(cells[5].partition("= ")[2].split()[0]) == pytest.approx(
                convert(needed, "mm³", "fl oz"), abs=0.005
            )
        # Ten per cent more stands higher in the hole; the job's own share is a blank cell.
        level = surface_depth(V=1.1 * needed, x=0.0, **pair.size)
        assert cells[6:] == [f"{Display(system).volume(1.1 * needed)}; {Display(system).length(level)}", ""]
        assert level < surface_depth(V=needed, x=0.0, **pair.size)
        assert tight(" ".join(cells[:6])) in tight(said)
        assert tight(cells[6]) in tight(said)


def test_the_sheet_gives_a_reserve_and_says_which_side_is_the_danger(made):
    system, (sheet, notes) = made
    said, told = text_of(sheet), text_of(notes)
    for words in (
        "BARE MINIMUM", "With 10 % more", "Job: + ____ %", "If the approval asks for more, do that",
        "Too little is a danger", "Too much is waste",
    ):  # fmt: skip
        assert words in said
    refill = "bar out, nozzle to the back again, fill, bar in, all while the mortar is workable"
    assert refill in apprentice(Lesson(system))["do"][-1]["t"]  # two columns stand side by side on the page
    pair = numbers.examples(system).main
    needed = required_volume(**pair.size)
    levels = [Display(system).length(surface_depth(V=share * needed, x=0.0, **pair.size)) for share in (1.0, 1.1)]
    assert f"shows {levels[0]} at the bare minimum and {levels[1]} with 10 % more" in told


def test_which_pairs_the_rule_suits_is_counted(made):
    """8 mm in 12 mm needs 1 - (8/12)², 56 % of the depth: half to two thirds is right for it."""
    system, (sheet, notes) = made
    for said, pairs in (
        (text_of(sheet), common_pairs(system)),
        (text_of(notes), Lesson(system).scene("halffull").scene._pairs),
    ):
        suits = [pair for pair in pairs if 0.5 <= 1 - (pair.phi / pair.d_0) ** 2 <= 2 / 3]
        assert "none of them is" not in said
        if suits:
            assert f"right for {len(suits)} of the {len(pairs)} pairs listed here" in said
            for pair in suits:
                assert percent(1 - (pair.phi / pair.d_0) ** 2) in said
        else:
            assert f"None of the {len(pairs)} pairs listed here" in said
    if system == "metric":
        assert numbers.between([numbers.Pair("8", 12.0, 100.0)]) == [
            (numbers.Pair("8", 12.0, 100.0), pytest.approx(5 / 9))
        ]


def test_the_table_gives_no_volume_of_an_exercise_away():
    main = [numbers.examples(system).main for system in SYSTEMS]
    for system in SYSTEMS:
        shown = {(one.bar, round(one.d_0, 3), round(one.l_v, 3)) for one in common_pairs(system) if one not in main}
        asked = {
            (one.pair.bar, round(one.pair.d_0, 3), round(one.pair.l_v, 3))
            for seed in range(60)
            for one in exercises(system, seed)
        }
        assert not shown & asked


def test_the_stages_say_what_the_mortar_does(made):
    system, _ = made
    pair = numbers.examples(system).main
    stages = apprentice(Lesson(system))["stages"]
    needed = required_volume(**pair.size)
    start, still, rising, home = (stage["words"]["t"] for stage in stages)
    assert Display(system).length(surface_depth(V=needed, x=0.0, **pair.size)) in start
    assert percent(full_fraction(d_0=pair.d_0, phi=pair.phi)) in start
    assert "not moved" in still
    assert surface_depth(V=needed, x=0.5 * pair.l_v, **pair.size) == surface_depth(V=needed, x=0.0, **pair.size)
    assert Display(system).length(surface_depth(V=needed, x=0.85 * pair.l_v, **pair.size)) in rising
    assert "at the mouth" in home
    assert surface_depth(V=needed, x=pair.l_v, **pair.size) == pytest.approx(0.0, abs=1e-9)
    for stage in stages:
        assert stage["picture"]["alt"] == stage["words"]["t"]


def test_the_cautions_and_ten_blank_cells_are_there(made):
    _, (sheet, notes) = made
    said = text_of(sheet)
    for words in (
        "silica dust",
        "eye protection",
        "Overhead",
        "Jamming bit",
        "Hit steel",
        "creep",
        "Heat",
        "approval, local codes",
    ):
        assert words in said
    assert re.search(r"Shot 1 2 3 4 5 6 7 8 9 10 Mass \[g\] Set to Density", said)
    for words in (
        "Silica dust",
        "Skin and eyes",
        "Overhead work",
        "A bit that jams",
        "Sustained load",
        "Heat",
        "approval, local codes",
    ):
        assert words in text_of(notes)


# ---- the trainer's notes -------------------------------------------------------------------------


def test_the_timing_adds_up_and_every_scene_is_there(made):
    system, (_, notes) = made
    taken = minutes(Texts())
    assert list(taken) == [scene.key for scene in SCENES]
    assert list(taken)[-1] == "shots"
    lasts = sum(taken.values()) - taken["shots"]
    assert 40 <= lasts <= 50
    said = text_of(notes)
    assert said.startswith("Why fill volume matters")
    assert f"{lasts} minutes in {len(SCENES) - 1} scenes" in said
    for number, scene in enumerate(SCENES, 1):
        one = scene(Lesson(system, seed=4).room)
        assert f"{number}. {one.tell('title')}" in said
        assert tight(one.ask()) in tight(said)
    rows = trainer(Lesson(system))["timing"]
    assert [int(row[3]["t"]) for row in rows] == [sum(list(taken.values())[:n]) for n in range(len(rows))]


def test_the_answers_are_those_on_the_screen(made):
    """Of the lesson's own numbers a few by another way: the notes' answer holds what calc gives for the question."""
    system, (_, notes) = made
    said = tight(text_of(notes))
    lesson = Lesson(system, seed=4)
    for scene in SCENES:
        one = lesson.scene(scene.key).scene
        if scene.key in ("eye", "shots", "exercises"):
            continue  # these wait for the class
        found = screen_lines(one, "reveal", ("answer",))
        assert found
        for line in found:
            assert tight(line) in said
        right = dict(one.options)[one.right()]
        assert tight(f"✓ {right}") in said
    pair = numbers.examples(system).main
    assert tight(f"What is left is the ring: {Display(system).volume(annular_volume(**pair.size))}") in said


def test_what_is_rehearsed_is_read_as_typed(made):
    system, (_, notes) = made
    said = tight(text_of(notes))
    unit, typed = Display(system).volume_unit, Display(system).usual(*classroom._GUESSES)
    amounts = [float(part.split()[0]) for part in typed.split(";")]
    needed = convert(required_volume(**numbers.examples(system).main.size), "mm³", unit)
    assert tight(f"{sum(one < needed for one in amounts)} of {len(amounts)} holes stay short") in said
    setting, shots = Display(system).usual(*classroom._SET)
    volumes = [convert(float(part.split()[0]) / 1.6, "mL", "mm³") for part in shots.split(";")]
    number, _, unit = setting.partition(" ")
    found = numbers.shots(system, volumes, convert(float(number), unit, "mm³"))
    assert tight(f"Your shots scatter by {percent(found.spread)}") in said
    assert "25.000mL" in said  # 40 g at 1.6 g/mL


def test_rehearsing_leaves_the_class_untouched():
    lesson = Lesson()
    trainer(lesson)
    assert lesson.room.guesses == []


def test_the_exercises_answers_are_those_of_the_class_number(made):
    system, (_, notes) = made
    said = tight(text_of(notes))
    data = trainer(Lesson(system, seed=4))
    drawn = exercises(system, 4)
    assert [task["answer"] for task in data["tasks"]] == [one.answer_text for one in drawn]
    assert [task["answer"] for task in trainer(Lesson(system, seed=5))["tasks"]] != [one.answer_text for one in drawn]
    for task, one in zip(data["tasks"], drawn, strict=True):
        assert task["ask"]["t"] == Texts().say(f"exercises.{one.kind}", **one.values)
        assert tight(one.answer_text) in said
        assert len(task["wrong"]) == len(one.mistakes)
        letters = {hint["letter"]: hint["text"]["t"] for hint in data["hints"]}
        for wrong, mistake in zip(task["wrong"], one.mistakes, strict=True):
            assert letters[wrong["letter"]] == Texts().say(f"hints.{mistake.key}")
            assert tight(wrong["value"] + wrong["letter"]) in said
    told = {hint["text"]["t"] for hint in data["hints"]} | {hint["t"] for hint in data["general"]}
    every = {
        Texts().say(key)
        for key in Texts().keys
        if key.startswith("hints.") and key not in ("hints.larger", "hints.smaller", "hints.stroke_unit")
    }
    assert told == every
    assert "lesson-4.csv" in said
    assert tight(result_sheet({}, seed=4).strip().replace("_", " ").replace(",", ", ")) in said


def test_keys_and_buttons_are_the_real_ones(made):
    _, (_, notes) = made
    said = text_of(notes)
    deck = Lesson().deck()
    buttons = [
        deck.back.description,
        deck.next.description,
        *(button.description for button in deck.scene.stage_buttons.values()),
    ]
    for words in buttons:
        assert f"“{words}”" in said
    keys = (handouts.Path(handouts.__file__).parent / "lesson.js").read_text(encoding="utf-8")
    for key, words in (("PageDown", "Page Down"), ("PageUp", "Page Up"), ("ArrowRight", "→"), ("ArrowLeft", "←")):
        assert key in keys
        assert words in trainer(Lesson())["move"]["keys"]["t"]
    exercise = Lesson().scene("exercises").scene
    assert f"“{exercise.show.description}”" in said
    eye = Lesson().scene("eye").scene
    assert f"“{eye.take_back.description}”" in said


def test_the_commands_are_accepted_by_the_command_line(made, monkeypatch):
    """Each command that the notes print is parsed as the trainer would type it."""
    system, _ = made
    data = trainer(Lesson(system, seed=4))
    called = []
    monkeypatch.setattr(cli, "_COMMANDS", dict.fromkeys(cli._COMMANDS, lambda options: called.append(options) or 0))
    for line in (*data["start"]["run"], *data["without"]["lab"], *data["task"]["command"]):
        python, _, command = line.partition(" -m calc ")
        assert python in (".venv/bin/python", r".venv\Scripts\python")
        assert cli.main(command.split()) == 0
    assert {(one.units, one.seed) for one in called if one.command == "lesson"} == {(system, 4)}
    assert [one.command for one in called] == ["lesson", "lesson", "lab", "lab", "handouts", "handouts"]
    assert all(lines[1].endswith('-m pip install -e ".[lesson]"') for lines in data["start"]["install"])


def test_cautions_and_what_to_lay_out_come_before_the_first_scene(made):
    _, (_, notes) = made
    first = subprocess.run(
        ["pdftotext", "-layout", "-l", "1", str(notes), "-"], capture_output=True, check=True
    ).stdout.decode()
    for words in (
        "Take care",
        "Silica dust",
        "wear gloves and eye protection",
        "For the lesson",
        "For the practice block",
        "needs no adhesive",
        "calliper",
    ):
        assert words in first
    said = text_of(notes)
    assert said.count("Take care") == 1
    assert "Ten weighings take longer than this scene" in said
    # Density and shot with their units, and tries explained.
    assert "its mass m (g) over the density" in said
    assert "tries include the right one" in said


def test_an_amount_is_not_parted_from_its_unit(made):
    _, (_, notes) = made
    lines = (
        subprocess.run(["pdftotext", "-layout", str(notes), "-"], capture_output=True, check=True)
        .stdout.decode()
        .splitlines()
    )
    rehearsed = [line for line in lines if line.count(";") > 2]
    assert rehearsed
    assert not any(re.search(r"\d$", line) for line in rehearsed)


def test_the_notes_say_at_which_share_the_force_is_lost(made):
    system, (_, notes) = made
    lost = numbers.lost_at(system)
    assert numbers.short(system, lost - 0.01).passes
    assert not numbers.short(system, lost).passes
    assert f"that is at {percent(lost)} missing" in text_of(notes)


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_first_page_gives_no_exercise_away(system):
    main = numbers.examples(system).main
    shown = float(full_fraction(d_0=main.d_0, phi=main.phi))
    for seed in range(200):
        for one in exercises(system, seed):
            assert (one.pair.bar, one.pair.d_0) != (main.bar, main.d_0)
            assert float(full_fraction(d_0=one.pair.d_0, phi=one.pair.phi)) != pytest.approx(shown, rel=CLOSE)


# ---- languages, and what is refused --------------------------------------------------------------


def test_german_is_whole(tmp_path):
    sheet, notes = write_handouts(language="de", out=tmp_path)
    said, told = text_of(sheet), text_of(notes)
    assert "Blatt für Auszubildende" in said
    assert not re.search(r"\b(the|mortar|hole)\b", said)
    # What people click in another program, and what a computer says, stays as it is there.
    assert not re.search(r"\b(the|mortar|hole|with|and)\b", told.replace("why_fill_volume_matters", "")), told
    # A typeset equation keeps the point, which its step has.
    assert not re.search(r"\d\.\d{1,2} (mm|mL|g|kN|%)", said + told)
    data = trainer(Lesson("metric", "de"))
    assert {scene["ask"]["l"] for scene in data["scenes"]} == {"de"}
    assert data["lang"] == "de"
    assert "--language de" in data["start"]["run"][0]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"units": "feet"}, "accepted: metric, us"),
        ({"language": "xx"}, "'xx' is not known; accepted: en, de"),
        ({"seed": -1}, "0 to 999999"),
    ],
)
def test_wrong_options_are_refused(given, said, tmp_path):
    with pytest.raises(ValueError, match=said):
        write_handouts(**given, out=tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_a_file_is_no_folder(tmp_path):
    place = tmp_path / "notes"
    place.write_text("mine")
    with pytest.raises(HandoutError, match="is a file: name a folder with --out DIR"):
        write_handouts(out=place)
    with pytest.raises(HandoutError, match=r"cannot be written .*: name another folder with --out DIR"):
        write_handouts(out=place / "under")
    assert place.read_text() == "mine"


def test_a_failure_leaves_what_stood_there(tmp_path, monkeypatch):
    old = tmp_path / "apprentice-metric.pdf"
    old.write_text("old")

    def full(self, data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(handouts.Path, "write_bytes", full)
    monkeypatch.setattr(handouts, "compile_list", lambda *_: (b"%PDF", 1))
    with pytest.raises(HandoutError, match="No space left on device"):
        write_handouts(out=tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [old.name]
    assert old.read_text() == "old"


def test_the_command(tmp_path, capsys):
    assert cli.main(["handouts", "--units", "us", "--class", "9", "--out", str(tmp_path)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        str(tmp_path / "apprentice-us.pdf"),
        str(tmp_path / "trainer-us.pdf"),
    ]
    assert "class number 9" in text_of(tmp_path / "trainer-us.pdf")
    assert cli.main(["handouts", "--language", "xx", "--out", str(tmp_path)]) == 2
    assert capsys.readouterr().err == "language 'xx' is not known; accepted: en, de\n"
    assert cli.main(["handouts", "--out", str(tmp_path / "trainer-us.pdf")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    with pytest.raises(SystemExit) as stopped:
        cli.main(["handouts", "--units", "feet"])
    assert stopped.value.code == 2


def test_the_default_place_is_where_build_writes(monkeypatch, tmp_path):
    monkeypatch.setattr(handouts, "default_out", lambda: tmp_path / "exports")
    monkeypatch.setattr(handouts, "compile_list", lambda *_: (b"%PDF", 1))
    assert {path.parent for path in write_handouts()} == {tmp_path / "exports" / "handouts"}


def test_the_lesson_tells_of_the_handouts(monkeypatch, capsys):
    from calc.lesson import server

    monkeypatch.setattr(server, "serve", lambda **_: 0)
    assert cli.main(["lesson"]) == 0
    assert capsys.readouterr().out.splitlines() == ["Printed sheets and trainer's notes: bonded-bar-workbook handouts"]


@pytest.mark.skipif(os.name == "nt", reason="one run of the real process is enough")
def test_the_command_as_it_is_typed(tmp_path):
    done = subprocess.run(
        [sys.executable, "-m", "calc", "handouts", "--out", str(tmp_path / "a" / "b")],
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert len(list((tmp_path / "a" / "b").iterdir())) == 2
