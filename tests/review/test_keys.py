"""Signatures of OpenSSH, made and verified by the real program."""

import json
import os
import shutil
import subprocess
from dataclasses import asdict, replace

import pytest

from calc.cli import main
from calc.package.manifest import open_package, sealed
from calc.review.companion import chained
from calc.review.keys import SignatureError, fingerprint
from calc.review.recheck import recheck
from calc.review.signoff import records

pytestmark = pytest.mark.skipif(
    shutil.which("ssh-keygen") is None and not os.environ.get("WORKBOOK_NO_SKIP"),
    reason="ssh-keygen is missing: it comes with OpenSSH (Debian's openssh-client)",
)


@pytest.fixture(scope="module")
def keys(tmp_path_factory):
    """Two keys, and a file of allowed signers that names the first."""
    folder = tmp_path_factory.mktemp("keys")
    for name in ("ann", "eve"):
        command = ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", name, "-f", str(folder / name)]
        subprocess.run(command, check=True)
    (folder / "signers").write_text(f"ann@example.org {(folder / 'ann.pub').read_text()}", encoding="utf-8")
    return folder


@pytest.fixture
def signed(package, sign, keys):
    sign(package, role="checked", name="Ann", key=keys / "ann")
    return package


def test_a_signature_is_verified_and_its_owner_named(signed, keys):
    verdict = recheck(signed, quick=True)
    assert verdict.exit_code == 0
    assert f"holds; signed with the key {fingerprint(keys / 'ann.pub')}, verified by ssh-keygen" in verdict.signoffs[0]
    assert "only recheck --signers FILE can tell" in verdict.signoffs[0]
    named = recheck(signed, quick=True, signers=keys / "signers")
    assert named.exit_code == 0
    assert "signed with the key of ann@example.org (SHA256:" in named.signoffs[0]
    assert records(open_package(signed))[0][0].namespace in named.signoffs[0]


def test_ssh_keygen_alone_verifies_it(signed, keys):
    """As the README says: nothing of this workbook is needed, and nothing of the format is ours."""
    (record,) = records(open_package(signed))[0]
    command = ["ssh-keygen", "-Y", "verify", "-f", keys / "signers", "-I", "ann@example.org", "-n", record.namespace]
    manifest = (signed / "manifest.json").read_bytes()
    done = subprocess.run([*command, "-s", signed / "signoff-1.sig"], input=manifest, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    done = subprocess.run(
        [*command, "-s", signed / "signoff-1.sig"], input=manifest + b" ", capture_output=True, check=False
    )
    assert done.returncode != 0


def test_a_signature_by_hand_over_the_manifest_is_verified_too(package, keys):
    subprocess.run(
        ["ssh-keygen", "-Y", "sign", "-f", keys / "ann", "-n", "file", package / "manifest.json"], check=True
    )
    verdict = recheck(package, quick=True, signers=keys / "signers")
    assert verdict.exit_code == 0
    assert verdict.signoffs == [verdict.signoffs[0]]
    assert verdict.signoffs[0].startswith("manifest.json.sig: the manifest, signed with the key of ann@example.org")


def test_a_package_built_anew_by_a_forger_is_found(signed, keys, reseal):
    """Everything fits, and the sign-off is written anew with its chain: the key is what the forger has not."""
    reseal(signed, note="built anew")
    digest = json.loads((signed / "manifest.json").read_text(encoding="utf-8"))["digest"]
    (record,) = records(open_package(signed))[0]
    forged = replace(record, manifest_digest=digest)
    content = {"schema": 2, "note": "", "records": [asdict(forged)]}
    (signed / "signoff.json").write_text(sealed(content), encoding="utf-8", newline="\n")
    verdict = recheck(signed, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "signoff-1.sig: is no signature of the sign-off by Ann" in verdict.sentence


@pytest.mark.parametrize("changed", [{"role": "approved"}, {"name": "Bob"}, {"date": "2026-11-26"}, {"reason": "x"}])
def test_a_record_edited_and_chained_anew_is_found(signed, changed):
    (record,) = records(open_package(signed))[0]
    content = {"schema": 2, "note": "", "records": [asdict(replace(record, **changed, before=chained([])))]}
    (signed / "signoff.json").write_text(sealed(content), encoding="utf-8", newline="\n")
    verdict = recheck(signed, quick=True)
    assert (verdict.word, verdict.exit_code) == ("tampered", 2)
    assert "signoff-1.sig" in verdict.sentence


def test_the_only_sign_off_removed(signed, keys, tmp_path):
    gone = shutil.copytree(signed, tmp_path / "gone")
    (gone / "signoff.json").unlink()
    orphan = recheck(gone, quick=True)
    assert orphan.exit_code == 1
    assert "nor of a sign-off that is still there" in orphan.text()
    (gone / "signoff-1.sig").unlink()
    assert recheck(gone, quick=True).exit_code == 0  # which the verdict says it cannot find
    verdict = recheck(gone, quick=True, signers=keys / "signers")
    assert verdict.exit_code == 1
    assert "nobody named in" in verdict.text()


def test_the_signature_alone_removed_or_exchanged(signed, keys, sign, tmp_path):
    other = shutil.copytree(signed, tmp_path / "other")
    (other / "signoff.json").unlink()
    sign(other, role="checked", name="Ann", key=keys / "eve")
    body = (other / "signoff-1.sig").read_bytes()
    (signed / "signoff-1.sig").write_bytes(body)
    assert recheck(signed, quick=True).exit_code == 2
    (signed / "signoff-1.sig").unlink()
    verdict = recheck(signed, quick=True)
    assert verdict.exit_code == 2
    assert "the signature of the sign-off by Ann is missing" in verdict.sentence
    strange = recheck(other, quick=True, signers=keys / "signers")
    assert strange.exit_code == 1
    assert "which stands for nobody in" in strange.text()


def test_a_stale_signature_is_not_called_forged(signed, reseal):
    reseal(signed, note="a later build")
    verdict = recheck(signed, quick=True)
    assert verdict.exit_code == 1
    assert "STALE" in verdict.signoffs[0]
    assert "made of another state" in verdict.signoffs[0]


def test_without_the_program_it_is_told(signed, keys, monkeypatch, sign):
    monkeypatch.setattr("calc.review.keys.shutil.which", lambda _: None)
    verdict = recheck(signed, quick=True)
    assert verdict.exit_code == 0
    assert "NOT VERIFIED: ssh-keygen is not installed" in verdict.signoffs[0]
    with pytest.raises(SignatureError, match="not installed"):
        recheck(signed, quick=True, signers=keys / "signers")
    with pytest.raises(SignatureError, match="not installed"):
        sign(signed, role="approved", name="B", key=keys / "ann")


def test_a_key_that_is_none(package, sign, tmp_path):
    (tmp_path / "key").write_text("no key", encoding="utf-8")
    with pytest.raises(SignatureError, match="ssh-keygen"):
        sign(package, role="checked", name="A", key=tmp_path / "key")
    assert not list(package.glob("signoff*"))


def test_a_list_of_signers_from_the_package_proves_nothing(signed, keys, capsys):
    shutil.copy(keys / "signers", signed / "inputs" / "signers")
    assert main(["recheck", "--quick", str(signed), "--signers", str(signed / "inputs" / "signers")]) == 2
    assert "proves nothing" in capsys.readouterr().err
    assert main(["recheck", "--quick", str(signed), "--signers", str(keys / "none")]) == 2
    assert "is no file of allowed signers" in capsys.readouterr().err


def test_a_signature_whose_sign_off_is_not_written_goes_too(package, sign, keys, monkeypatch):
    from calc.review import companion

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(companion, "_write", full)
    with pytest.raises(OSError, match="No space"):
        sign(package, role="checked", name="Ann", key=keys / "ann")
    assert not list(package.glob("*.sig"))
    assert not (package / "signoff.json").exists()
