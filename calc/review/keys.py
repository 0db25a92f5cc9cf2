"""Signatures of OpenSSH over a package's manifest: made with the user's own key and ``ssh-keygen``, and verified by it.

Nothing here is a format of ours. What is signed is ``manifest.json``, byte for byte, so that ``ssh-keygen -Y verify``
alone can verify it; the namespace, which ssh-keygen asks for, binds the sign-off: its role, and a digest of all that it
says. Private keys are never read here.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from calc.base.errors import CalcError
from calc.package.manifest import shown

PROGRAM = "ssh-keygen"
ARMOUR = b"-----BEGIN SSH SIGNATURE-----"
PLAIN = "file"  # the namespace that people use who sign a file by hand
_DIGEST = "SHA256:"
_LONGEST_RUN = 60.0  # s


class SignatureError(CalcError):
    """A signature could not be made or looked at; the message is a sentence."""


@dataclass(frozen=True)
class Verified:
    """What ``ssh-keygen`` says of a signature: whether it fits, its key's fingerprint, and whose key that is."""

    fits: bool
    key: str = ""
    owner: str = ""


def fingerprint(key: Path) -> str:
    """Return the fingerprint of a key, private or public, as ``SHA256:…``; raises `SignatureError`."""
    said = _asked(["-l", "-f", str(key)])
    found = _fingerprint_in(said)
    if not found:
        raise SignatureError(f"{PROGRAM} tells no fingerprint of {shown(key)}: {shown(said, 120)}")
    return found


def signature_of(message: bytes, *, key: Path, namespace: str) -> bytes:
    """Sign with the user's key; ``ssh-keygen`` asks for its passphrase, or the agent has it.

    Parameters
    ----------
    message
        What is signed.
    key
        The private key's file, or the public one's when the agent holds the private one.
    namespace
        What the signature is for.

    Returns
    -------
    bytes
        The signature as OpenSSH writes it.

    Raises
    ------
    SignatureError
        ``ssh-keygen`` is missing or refuses.
    """
    done = _run(["-Y", "sign", "-f", str(key), "-n", namespace], message, None)
    if done.returncode or not done.stdout.startswith(ARMOUR):
        raise SignatureError(f"{PROGRAM} did not sign with {shown(key)}: {_words(done.stderr or done.stdout)}")
    return done.stdout


def verified(message: bytes, signature: bytes, *, namespace: str, signers: Path | None = None) -> Verified:
    """Verify a signature.

    Parameters
    ----------
    message
        What was signed.
    signature
        The signature, as OpenSSH writes it.
    namespace
        What it must have been made for.
    signers
        OpenSSH's file of allowed signers, which says whose key a key is; without it nobody is named.

    Returns
    -------
    Verified

    Raises
    ------
    SignatureError
        ``ssh-keygen`` is missing.
    """
    with tempfile.TemporaryDirectory(prefix="signature-") as scratch:
        place = Path(scratch, "signature")
        place.write_bytes(signature)
        plain = _run(["-Y", "check-novalidate", "-n", namespace, "-s", str(place)], message)
        if plain.returncode:
            return Verified(False)
        key = _fingerprint_in(_words(plain.stdout))
        if signers is None:
            return Verified(True, key)
        known = _run(["-Y", "find-principals", "-f", str(signers), "-s", str(place)], b"")
        for owner in known.stdout.decode("utf-8", "replace").splitlines() if known.returncode == 0 else ():
            rest = ["-I", owner, "-n", namespace, "-s", str(place)]
            if _run(["-Y", "verify", "-f", str(signers), *rest], message).returncode == 0:
                return Verified(True, key, owner)
        return Verified(True, key)


def _fingerprint_in(text: str) -> str:
    return next((word for word in text.split() if word.startswith(_DIGEST)), "")


def _asked(arguments: list[str]) -> str:
    done = _run(arguments, b"")
    if done.returncode:
        raise SignatureError(f"{PROGRAM} refuses: {_words(done.stderr or done.stdout)}")
    return _words(done.stdout)


def _run(
    arguments: list[str], given: bytes, longest: float | None = _LONGEST_RUN
) -> subprocess.CompletedProcess[bytes]:
    program = shutil.which(PROGRAM)
    if program is None:
        raise SignatureError(f"{PROGRAM} is not installed: it comes with OpenSSH (Debian's package openssh-client)")
    try:
        return subprocess.run([program, *arguments], input=given, capture_output=True, timeout=longest, check=False)
    except (OSError, subprocess.TimeoutExpired) as error:
        raise SignatureError(f"{PROGRAM} did not answer: {shown(error, 120)}") from None


def _words(raw: bytes) -> str:
    return shown(" ".join(raw.decode("utf-8", "replace").split()), 200)
