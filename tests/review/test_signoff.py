"""Sign-off: a record bound to the manifest, stale after any change, and never more than it says it is."""

import json
import shutil
from concurrent.futures import ThreadPoolExecutor

import pytest

from calc.cli import main
from calc.package.manifest import open_package
from calc.review.companion import CompanionError
from calc.review.recheck import recheck
from calc.review.signoff import records, sign


def test_a_record_is_bound_to_the_manifest(package, capsys):
    assert main(["sign", str(package), "--as", "checked", "--name", "A. Reviewer", "--date", "2026-11-25"]) == 0
    assert "no cryptographic signature" in capsys.readouterr().out
    kept = json.loads((package / "signoff.json").read_text(encoding="utf-8"))
    manifest = json.loads((package / "manifest.json").read_text(encoding="utf-8"))
    (record,) = kept["records"]
    assert (record["role"], record["name"], record["date"]) == ("checked", "A. Reviewer", "2026-11-25")
    assert record["manifest_digest"] == manifest["digest"]
    assert "no cryptographic signature" in kept["note"]
    assert "signoff.json" not in manifest["files"]
    verdict = recheck(package, quick=True)
    assert verdict.word == "identical"
    assert verdict.signoffs == ["checked by A. Reviewer, 2026-11-25: holds"]


def test_records_add_up_and_a_later_package_makes_them_stale(package, reseal, edit):
    sign(package, role="prepared", name="P")
    sign(package, role="approved", name="Q")
    assert [one.role for one in records(open_package(package))[0]] == ["prepared", "approved"]
    edit(package / "doses.csv", "P5", "P6")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert all("STALE" in line for line in verdict.signoffs)
    reseal(package)  # the manifest made to fit again: the hashes hold, the sign-off does not
    verdict = recheck(package, quick=True)
    assert verdict.word == "identical"
    assert len(verdict.signoffs) == 2
    assert all("STALE" in line for line in verdict.signoffs)
    sign(package, role="checked", name="R")
    assert [line.split(": ")[1] for line in recheck(package, quick=True).signoffs] == ["STALE", "STALE", "holds"]


def test_a_changed_package_is_not_signed(package, capsys):
    (package / "doses.csv").write_bytes(b"x")
    assert main(["sign", str(package), "--as", "approved", "--name", "Q"]) == 2
    assert "doses.csv: was changed" in capsys.readouterr().err
    assert not (package / "signoff.json").exists()


def test_a_changed_record_is_found_and_not_added_to(package, edit):
    sign(package, role="checked", name="Honest")
    edit(package / "signoff.json", "Honest", "Forged")
    verdict = recheck(package, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "signoff.json" in verdict.sentence
    with pytest.raises(CompanionError, match=r"signoff\.json"):
        sign(package, role="checked", name="Next")


@pytest.mark.parametrize(
    ("role", "name", "day", "said"),
    [
        ("owner", "A", None, "prepared, checked, approved"),
        ("checked", "  ", None, "no name"),
        ("checked", "a\nb", None, "no name"),
        ("checked", "x" * 201, None, "200"),
        ("checked", "\u202eA", None, "no name"),
        ("checked", "A", "25.11.2026", "YYYY-MM-DD"),
        ("checked", "A", "20261125", "accepted: 2026-11-25"),
        ("checked", "A", "2999-01-01", "future"),
    ],
)
def test_wrong_entries_are_refused(package, role, name, day, said):
    with pytest.raises(CompanionError, match=said):
        sign(package, role=role, name=name, day=day)
    assert not (package / "signoff.json").exists()


def test_detached_signatures_are_listed(package):
    for name in ("manifest.json.sig", "manifest.json.asc", "manifest.p7s"):
        (package / name).write_bytes(b"\x00\x01")
    verdict = recheck(package, quick=True)
    assert verdict.word == "identical"
    assert sum("not verified here" in line for line in verdict.signoffs) == 3
    (package / "notebooks" / "x.sig").write_bytes(b"\x00")
    assert recheck(package, quick=True).word == "tampered"


def test_two_people_at_once(package):
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: sign(package, role="checked", name=f"N{n}"), range(8)))
    found, wrong = records(open_package(package))
    assert wrong == ""
    assert sorted(one.name for one in found) == [f"N{n}" for n in range(8)]
    assert not list(package.glob(".signoff*"))


def test_what_a_killed_sign_leaves_does_no_harm(package):
    (package / ".signoff.json.ab12_x.part").write_text("{", encoding="utf-8")
    assert recheck(package, quick=True).word == "identical"
    sign(package, role="checked", name="A")
    assert not list(package.glob(".signoff*"))


def test_a_failed_write_keeps_the_records(package, monkeypatch):
    sign(package, role="prepared", name="A")
    before = (package / "signoff.json").read_bytes()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("calc.package.manifest.os.replace", full)
    with pytest.raises(OSError, match="No space"):
        sign(package, role="checked", name="B")
    assert (package / "signoff.json").read_bytes() == before
    assert not list(package.glob(".signoff*"))


def test_a_copy_elsewhere_keeps_its_sign_off(package, tmp_path):
    sign(package, role="checked", name="A")
    copied = shutil.copytree(package, tmp_path / "elsewhere" / "x")
    assert recheck(copied, quick=True).signoffs[0].endswith("holds")


def test_a_date_before_the_package_was_built_is_refused(package):
    with pytest.raises(CompanionError, match=r"2020-01-01 is before the package was built \(2026-11-25\)"):
        sign(package, role="checked", name="A", day="2020-01-01")


def test_one_name_in_two_roles_is_told(package):
    sign(package, role="prepared", name="Ann")
    sign(package, role="checked", name="ann")
    sign(package, role="checked", name="Bo")
    lines = recheck(package, quick=True).signoffs
    assert any("ann signed as prepared and as checked" in line for line in lines)
    assert "checked is signed more than once" in lines
