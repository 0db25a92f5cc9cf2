"""Review comments: numbered, bound to the manifest, never taken out, and never in the way of the package."""

import json
from concurrent.futures import ThreadPoolExecutor

import pytest

from calc.cli import main
from calc.package.manifest import open_package, sealed
from calc.review.comments import comment, comments, open_comments
from calc.review.companion import CompanionError
from calc.review.recheck import recheck


def test_a_comment_lies_beside_the_package_and_names_its_step(package, capsys):
    arguments = [
        "comment",
        str(package),
        "--name",
        "R. Viewer",
        "--kind",
        "must change",
        "--about",
        "01.S1.V_a",
        "--text",
        "Which drawing says 110 mm?",
    ]
    assert main(arguments) == 0
    assert "comment 1" in capsys.readouterr().out
    kept = json.loads((package / "comments.json").read_text(encoding="utf-8"))
    manifest = json.loads((package / "manifest.json").read_text(encoding="utf-8"))
    (one,) = kept["comments"]
    assert (one["number"], one["kind"], one["about"], one["name"]) == ("1", "must change", "01.S1.V_a", "R. Viewer")
    assert one["manifest_digest"] == manifest["digest"]
    assert "comments.json" not in manifest["files"]
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("identical", 0)
    assert len(verdict.comments) == 1
    assert "1. must change on 01.S1.V_a: Which drawing says 110 mm? (R. Viewer" in verdict.text()


def test_comments_add_up_and_an_answer_settles(package):
    comment(package, text="Why 20 %?", name="R", kind="question", about="01.S1.V_dose")
    comment(package, text="Good layout.", name="R")
    assert [one.number for one in open_comments(comments(open_package(package))[0])] == ["1"]
    comment(package, text="See the trial panel.", name="E", kind="remark", answers="1")
    assert [one.number for one in open_comments(comments(open_package(package))[0])] == [
        "1"
    ]  # an answer alone settles nothing
    comment(package, text="Accepted.", name="R", kind="settled", answers="1")
    found, wrong = comments(open_package(package))
    assert (wrong, [one.number for one in found], open_comments(found)) == ("", ["1", "2", "3", "4"], [])
    assert recheck(package, quick=True).comments == ["4 that ask for nothing, or are settled"]


def test_a_comment_on_another_state_says_so(package, recomputed, edit):
    comment(package, text="Too deep?", name="R", kind="question")
    edit(package / "inputs" / "schedule.csv", "P5,24,25,32,360", "P5,24,25,32,350")
    recomputed(package)
    (line,) = recheck(package, quick=True).comments
    assert line.endswith("(written for another state of the package)")


def test_a_changed_comments_file_is_found_and_not_added_to(package, edit):
    comment(package, text="Honest", name="R")
    edit(package / "comments.json", "Honest", "Forged")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "comments.json" in verdict.sentence
    assert "Forged" not in verdict.text()
    before = (package / "comments.json").read_bytes()
    with pytest.raises(CompanionError, match=r"comments\.json"):
        comment(package, text="Next", name="R")
    assert (package / "comments.json").read_bytes() == before


def test_a_changed_package_takes_no_comment(package):
    (package / "doses.csv").write_bytes(b"x")
    with pytest.raises(CompanionError, match=r"doses\.csv: was changed"):
        comment(package, text="Odd", name="R")
    assert not (package / "comments.json").exists()


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"kind": "praise"}, "must change, question, remark, settled"),
        ({"text": " \n "}, "1 to 4000"),
        ({"text": "x" * 4001}, "4001 characters"),
        ({"name": ""}, "no name"),
        ({"name": "a\nb"}, "no name"),
        ({"about": "01.S9.V_a"}, "such as 01.S1"),
        ({"answers": "1"}, "no comment yet"),
        ({"kind": "settled"}, "must name its number"),
    ],
)
def test_wrong_entries_are_refused_and_nothing_is_written(package, given, said):
    with pytest.raises(CompanionError, match=said):
        comment(package, **({"text": "t", "name": "n"} | given))
    assert not (package / "comments.json").exists()


def test_an_unknown_number_is_refused_once_there_are_comments(package):
    comment(package, text="t", name="n")
    with pytest.raises(CompanionError, match="accepted: 1 to 1"):
        comment(package, text="t", name="n", answers="2")


@pytest.mark.parametrize(
    "nasty", ["<script>alert(1)</script>", "=1+1", "$(rm -rf /)", "\u202eabc", "two\nlines", "🔩" * 100]
)
def test_text_is_kept_as_it_is_and_shown_as_text(package, nasty):
    comment(package, text=nasty, name="R")
    assert json.loads((package / "comments.json").read_text(encoding="utf-8"))["comments"][0]["text"] == nasty
    assert all(line.isprintable() for line in recheck(package, quick=True).comments)


def test_comments_written_at_once_are_all_kept(package):
    with ThreadPoolExecutor(6) as pool:
        list(pool.map(lambda n: comment(package, text=f"n{n}", name="R"), range(12)))
    found, wrong = comments(open_package(package))
    assert wrong == ""
    assert {one.text for one in found} == {f"n{n}" for n in range(12)}
    assert [one.number for one in found] == [str(n + 1) for n in range(12)]


@pytest.mark.parametrize("about", ["totals.dose_L", "P5.rounded_dose_mL", "01.P5.pack"])
def test_results_and_checks_can_be_commented(package, about):
    assert comment(package, text="t", name="n", about=about).about == about


def test_only_its_author_settles_a_wish_for_a_change_or_another_with_a_reason(package, capsys):
    comment(package, text="110 mm is too short.", name="R. Viewer", kind="must change")
    settle = ["comment", str(package), "--name", "E", "--kind", "settled", "--answers", "1", "--text", "Fine."]
    assert main(settle) == 2
    assert "R. Viewer settles it, or somebody else who gives the reason with --anyway" in capsys.readouterr().err
    assert len(comments(open_package(package))[0]) == 1
    with pytest.raises(CompanionError, match="no reason"):
        comment(package, text="Fine.", name="E", kind="settled", answers="1", anyway=" ")
    assert main([*settle, "--anyway", "R. Viewer is on leave"]) == 0
    assert open_comments(comments(open_package(package))[0]) == []
    assert any("for the reason “R. Viewer is on leave”" in line for line in recheck(package, quick=True).comments)


def test_its_author_settles_without_a_reason(package):
    comment(package, text="110 mm is too short.", name="R. Viewer", kind="must change")
    assert comment(package, text="I misread.", name="r.  viewer", kind="settled", answers="1").reason == ""
    assert open_comments(comments(open_package(package))[0]) == []


def test_a_comment_removed_from_between_is_found(package):
    for text in ("one", "two", "three"):
        comment(package, text=text, name="R", kind="must change")
    content = json.loads((package / "comments.json").read_text(encoding="utf-8"))
    content.pop("digest")
    del content["comments"][1]
    (package / "comments.json").write_text(sealed(content), encoding="utf-8", newline="\n")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "comments.json: an entry in it was removed, moved or edited" in verdict.sentence
