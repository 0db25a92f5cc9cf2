"""Sign-off: bound to the manifest and to those before it, and refused where something stands in the way."""

import json
import shutil
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta

import pytest

from calc.cli import main
from calc.package.manifest import open_package, sealed
from calc.review.comments import comment
from calc.review.companion import CompanionError, chained
from calc.review.recheck import recheck
from calc.review.signoff import Record, records


def rewritten(folder, change, *, file="signoff.json", part="records"):
    """Change the entries of a file beside the package, and seal it anew, as ten lines of anybody's would."""
    content = json.loads((folder / file).read_text(encoding="utf-8"))
    content.pop("digest")
    content[part] = change(content[part])
    (folder / file).write_text(sealed(content), encoding="utf-8", newline="\n")


def test_a_record_is_bound_to_the_manifest(package, sign):
    sign(package, role="checked", name="A. Reviewer", day="2026-11-25")
    kept = json.loads((package / "signoff.json").read_text(encoding="utf-8"))
    manifest = json.loads((package / "manifest.json").read_text(encoding="utf-8"))
    (record,) = kept["records"]
    assert (record["role"], record["name"], record["date"]) == ("checked", "A. Reviewer", "2026-11-25")
    assert record["manifest_digest"] == manifest["digest"]
    assert "no cryptographic signature" in kept["note"]
    assert "signoff.json" not in manifest["files"]
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("identical", 0)
    assert verdict.signoffs == ["checked by A. Reviewer, 2026-11-25: holds"]
    assert "no cryptographic signature" in verdict.text()


def test_a_stale_sign_off_ends_with_one(package, reseal, edit, sign):
    sign(package, role="checked", name="P")
    sign(package, role="approved", name="Q")
    assert [one.role for one in records(open_package(package))[0]] == ["checked", "approved"]
    edit(package / "doses.csv", "P5", "P6")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert all("STALE" in line for line in verdict.signoffs)
    reseal(package)  # the manifest made to fit again: the hashes hold, the sign-offs do not
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("identical", 1)
    assert [line.split(": ")[1] for line in verdict.signoffs] == ["STALE", "STALE"]
    sign(package, role="checked", name="R")
    assert [line.split(": ")[1] for line in recheck(package, quick=True).signoffs] == ["STALE", "STALE", "holds"]


FORGED = {
    "the first removed": lambda all_: all_[1:],
    "one between removed": lambda all_: [all_[0], *all_[2:]],
    "two exchanged": lambda all_: [all_[1], all_[0], *all_[2:]],
    "a name edited": lambda all_: [all_[0] | {"name": "Somebody Else"}, *all_[1:]],
    "a role edited": lambda all_: [all_[0], all_[1] | {"role": "approved"}, *all_[2:]],
    "a date edited": lambda all_: [all_[0] | {"date": "2026-11-24"}, *all_[1:]],
    "one put in": lambda all_: [all_[0], all_[0] | {"name": "New"}, *all_[1:]],
    "one put behind": lambda all_: [*all_, all_[-1] | {"name": "New", "role": "approved"}],
    "the chain blanked": lambda all_: [all_[0], *(one | {"before": ""} for one in all_[1:])],
}


@pytest.mark.parametrize("change", FORGED.values(), ids=FORGED)
def test_one_of_several_removed_moved_or_edited(package, sign, change):
    for role, name in (("prepared", "A"), ("checked", "B"), ("approved", "C")):
        sign(package, role=role, name=name)
    rewritten(package, change)
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "signoff.json: an entry in it was removed, moved or edited" in verdict.sentence
    with pytest.raises(CompanionError, match="removed, moved or edited"):
        sign(package, role="checked", name="D")


def test_what_only_a_signature_finds_is_said(package, sign):
    """The last of the records taken away, or the whole chain made anew: the verdict says what it cannot find."""
    sign(package, role="prepared", name="A")
    sign(package, role="checked", name="B")
    rewritten(package, lambda all_: all_[:1])
    verdict = recheck(package, quick=True)
    assert verdict.exit_code == 0
    assert "What only a signature finds" in verdict.text()
    assert "a last or only sign-off or comment that was taken away" in verdict.text()


def test_records_of_an_older_calc_are_read_and_told(package, sign):
    sign(package, role="prepared", name="A")
    content = json.loads((package / "signoff.json").read_text(encoding="utf-8"))
    younger = ("before", "comments", "reason", "despite", "key")
    old = [{key: value for key, value in one.items() if key not in younger} for one in content["records"]]
    (package / "signoff.json").write_text(
        sealed({"schema": 1, "note": "", "records": old}), encoding="utf-8", newline="\n"
    )
    assert "not chained" in recheck(package, quick=True).text()
    sign(package, role="checked", name="B")
    assert recheck(package, quick=True).exit_code == 0
    rewritten(package, lambda all_: [all_[0] | {"name": "Z"}, *all_[1:]])
    assert recheck(package, quick=True).word == "tampered"


def test_comments_that_were_there_when_it_was_signed_stay(package, sign):
    comment(package, text="Which drawing?", name="R")
    comment(package, text="And which floor?", name="R")
    sign(package, role="checked", name="A")
    comment(package, text="Good.", name="R")
    assert recheck(package, quick=True).exit_code == 0
    rewritten(package, lambda all_: all_[:1], file="comments.json", part="comments")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "comments that were there when it was signed were removed, moved or edited" in verdict.sentence
    (package / "comments.json").unlink()
    assert recheck(package, quick=True).word == "tampered"


# ---- what stands in the way ----


def refused(package, sign, said, **how):
    """Refused with the reason; signed with one of the person's own, which every later verdict tells."""
    before = (package / "signoff.json").read_bytes() if (package / "signoff.json").exists() else b""
    with pytest.raises(CompanionError, match=said):
        sign(package, **how)
    assert ((package / "signoff.json").read_bytes() if (package / "signoff.json").exists() else b"") == before
    record = sign(package, **how, anyway="the client waits")
    assert (record.reason, bool(record.despite)) == ("the client waits", True)
    line = next(line for line in recheck(package, quick=True).signoffs if "signed anyway" in line)
    assert "signed anyway, for the reason “the client waits”, although" in line
    assert said in line


def test_approved_before_checked(package, sign):
    refused(package, sign, "nobody has signed as checked what is to be approved", role="approved", name="A")


def test_approved_after_a_check_of_another_state(package, sign, reseal):
    sign(package, role="checked", name="A")
    reseal(package, note="another")
    refused(package, sign, "nobody has signed as checked", role="approved", name="B")


@pytest.mark.parametrize("again", ["ann lee", "ANN  LEE", "Ａnn Lee "])
def test_one_person_in_two_roles(package, sign, again):
    sign(package, role="prepared", name="Ann Lee")
    refused(package, sign, "has signed as prepared, and one person signs in one role", role="checked", name=again)
    assert any("signed as prepared and as checked" in line for line in recheck(package, quick=True).signoffs)
    sign(package, role="prepared", name="Bo")
    assert any("prepared is signed more than once" in line for line in recheck(package, quick=True).signoffs)


@pytest.mark.parametrize("again", ["Ann Lee", "ann  LEE"])
def test_who_prepared_it_by_the_job_file_does_not_check_it(package, sign, edit, recomputed, again):
    edit(package / "inputs" / "job.toml", "[job]\n", '[job]\nprepared_by = "Ann Lee"\n')
    recomputed(package)
    assert sign(package, role="prepared", name=again).despite == ""
    refused(package, sign, "is who prepared it, says the job file", role="checked", name=again)


def test_how_many_checks_do_not_pass_is_said(package, sign, reseal, edit, monkeypatch, capsys):
    from calc.review import signing

    text = (package / "results.json").read_text(encoding="utf-8")
    some = text.replace('"verdict": "passes"', '"verdict": "fails"', 2).replace(
        '"verdict": "passes"', '"verdict": "owed"', 1
    )
    (package / "results.json").write_text(some, encoding="utf-8", newline="\n")
    reseal(package)
    number = text.count('"verdict":')
    copy = shutil.copytree(package, package.parent / "again")
    monkeypatch.setattr(signing, "recheck", lambda folder, **_: recheck(folder, rebuilt=copy))
    assert main(["sign", str(package), "--as", "checked", "--name", "Q", "--anyway", "to be looked at"]) == 0
    assert f"does not pass: of its {number} checks 2 fail and 1 are owed" in capsys.readouterr().out
    assert any("2 fail and 1 are owed" in line for line in recheck(package, quick=True).signoffs)


@pytest.mark.parametrize("role", ["owner", "checked\0", ""])
def test_a_record_of_no_role_counts_for_nothing(package, sign, role):
    sign(package, role="checked", name="A")
    rewritten(package, lambda all_: [all_[0] | {"role": role, "key": "SHA256:x"}])
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "in it is no role" in verdict.text()


def test_half_a_letter_in_a_record_has_a_namespace_of_its_own():
    one, other = (Record("checked", name, "2026-11-25", "", "", "") for name in ("A\ud800", "A"))
    assert one.namespace.startswith("checked-")
    assert one.namespace != other.namespace


def test_an_open_wish_for_a_change(package, sign):
    comment(package, text="The depth is wrong.", name="R", kind="must change")
    refused(package, sign, "comment 1 asks for a change and is open", role="checked", name="A")
    comment(package, text="Right after all.", name="R", kind="settled", answers="1")
    assert sign(package, role="approved", name="B").reason == ""


def test_a_package_that_does_not_recheck(package, reseal, edit, sign, tmp_path):
    other = shutil.copytree(package, tmp_path / "made again")
    edit(package / "doses.csv", "P5", "P6")
    reseal(package)
    from calc.review import signing

    with pytest.raises(CompanionError, match=r"the package does not recheck \(numbers: IDENTICAL.*documents: DIFFERS"):
        signing.sign(package, role="checked", name="A", rebuilt=other)
    assert not (package / "signoff.json").exists()
    signing.sign(package, role="checked", name="A", rebuilt=other, anyway="checked by hand")
    assert "although the package does not recheck" in recheck(package, quick=True).text()


def test_a_reason_that_nothing_asks_for_is_not_recorded(package, sign):
    assert sign(package, role="checked", name="A", anyway="in a hurry").reason == ""
    assert "hurry" not in recheck(package, quick=True).text()


def test_a_changed_package_is_not_signed_whatever_the_reason(package, sign):
    (package / "doses.csv").write_bytes(b"x")
    with pytest.raises(CompanionError, match=r"doses\.csv: was changed"):
        sign(package, role="prepared", name="Q", anyway="it is fine")
    assert not (package / "signoff.json").exists()


def test_a_changed_record_is_found_and_not_added_to(package, edit, sign):
    sign(package, role="checked", name="Honest")
    edit(package / "signoff.json", "Honest", "Forged")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "signoff.json" in verdict.sentence
    with pytest.raises(CompanionError, match=r"signoff\.json"):
        sign(package, role="checked", name="Next")


@pytest.mark.parametrize(
    ("role", "name", "day", "anyway", "said"),
    [
        ("owner", "A", None, "", "prepared, checked, approved"),
        ("checked", "  ", None, "", "no name"),
        ("checked", "a\nb", None, "", "no name"),
        ("checked", "x" * 201, None, "", "200"),
        ("checked", "\u202eA", None, "", "no name"),
        ("checked", "A", "25.11.2026", "", "YYYY-MM-DD"),
        ("checked", "A", "20261125", "", "accepted: 2026-11-25"),
        ("checked", "A", "2999-01-01", "", "future"),
        ("checked", "A", "2020-01-01", "", r"before the package was built \(2026-11-25\)"),
        ("checked", "A", "2026-11-24", "", r"before the package was built \(2026-11-25\)"),
        ("checked", "A", None, " \n", "no reason"),
        ("checked", "A", None, "x" * 501, "1 to 500"),
    ],
)
def test_wrong_entries_are_refused(package, sign, role, name, day, anyway, said):
    with pytest.raises(CompanionError, match=said):
        sign(package, role=role, name=name, day=day, anyway=anyway)
    assert not (package / "signoff.json").exists()


def forged_dates(package, sign, day):
    sign(package, role="checked", name="A")
    (record,) = records(open_package(package))[0]
    rewritten(package, lambda _: [asdict(replace(record, date=day, before=chained([])))])
    return recheck(package, quick=True).signoffs


@pytest.mark.parametrize(
    ("day", "said"),
    [
        ("2026-11-01", "2026-11-01, lies before the package was built"),
        ("3026-11-01", "3026-11-01, lies in the future"),
        ("soon", "soon, is none"),
    ],
)
def test_dates_that_cannot_be_are_told(package, sign, day, said):
    assert any(said in line for line in forged_dates(package, sign, day))


@pytest.mark.parametrize(
    ("made", "said"),
    [
        ("1970-01-01T00:00:00+00:00", "before this workbook"),
        ("2999-12-31", "future"),
        ("9999-12-31T23:59:59-12:00", "future"),
        ("0001-01-01T00:00:00+12:00", "before this workbook"),
    ],
)
def test_a_package_of_an_absurd_date_is_told(package, sign, reseal, made, said):
    sign(package, role="checked", name="A")
    reseal(package, made=made)
    (record,) = records(open_package(package))[0]
    digest = open_package(package).digest
    rewritten(package, lambda _: [asdict(replace(record, manifest_digest=digest))])
    assert any("the package's date" in line and said in line for line in recheck(package, quick=True).signoffs)


def test_a_date_is_taken_that_it_still_is_somewhere(package, sign, reseal):
    """At half past five in the morning UTC, people west of Greenwich write the day before."""
    early = (datetime.now(UTC) - timedelta(days=1)).replace(hour=5, minute=30)
    reseal(package, made=early.isoformat(timespec="seconds"))
    assert sign(package, role="checked", name="A", day=(early - timedelta(days=1)).date().isoformat())


def test_detached_signatures_of_other_tools_are_listed(package):
    for name in ("manifest.json.sig", "manifest.json.asc", "manifest.p7s"):
        (package / name).write_bytes(b"\x00\x01")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("identical", 0)
    assert sum("not verified here" in line for line in verdict.signoffs) == 3
    (package / "notebooks" / "x.sig").write_bytes(b"\x00")
    assert recheck(package, quick=True).word == "tampered"


def test_two_people_at_once(package, sign):
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: sign(package, role="checked", name=f"N{n}"), range(8)))
    found, wrong = records(open_package(package))
    assert wrong == ""
    assert sorted(one.name for one in found) == [f"N{n}" for n in range(8)]
    assert not list(package.glob(".signoff*"))


def test_what_a_killed_sign_leaves_does_no_harm(package, sign):
    (package / ".signoff.json.ab12_x.part").write_text("{", encoding="utf-8")
    assert recheck(package, quick=True).word == "identical"
    sign(package, role="checked", name="A")
    assert not list(package.glob(".signoff*"))


def test_a_failed_write_keeps_the_records(package, monkeypatch, sign):
    sign(package, role="prepared", name="A")
    before = (package / "signoff.json").read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("calc.package.manifest.os.replace", full)
    with pytest.raises(OSError, match="No space"):
        sign(package, role="checked", name="B")
    assert (package / "signoff.json").read_bytes() == before
    assert not list(package.glob(".signoff*"))


def test_a_copy_elsewhere_keeps_its_sign_off(package, tmp_path, sign):
    sign(package, role="checked", name="A")
    copied = shutil.copytree(package, tmp_path / "elsewhere" / "x")
    assert recheck(copied, quick=True).signoffs[0].endswith("holds")


def test_the_command_says_what_stood_in_the_way(package, monkeypatch, capsys, sign):
    """The command holds a package against one that is made again; here against its own copy."""
    from calc.review import signing

    copy = shutil.copytree(package, package.parent / "again")
    monkeypatch.setattr(signing, "recheck", lambda folder, **_: recheck(folder, rebuilt=copy))
    assert main(["sign", str(package), "--as", "approved", "--name", "Q"]) == 2
    assert "give the reason with --anyway" in capsys.readouterr().err
    assert main(["sign", str(package), "--as", "approved", "--name", "Q", "--anyway", "urgent"]) == 0
    assert "signed although nobody has signed as checked" in capsys.readouterr().out
    assert main(["recheck", "--quick", str(package)]) == 0
    assert "for the reason “urgent”" in capsys.readouterr().out
