"""Where a package is made before it is moved into place as one, and what a killed build leaves there.

A build works in a hidden folder beside its target and holds a lock on it, which ends with the process. So the next
build can tell a folder that nobody works in from one that another build still fills.
"""

from __future__ import annotations

import ctypes
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: age alone tells
    fcntl = None  # type: ignore[assignment]

_MAKING, _OLD = "~build-", "~old-"  # a job number has no tilde, so no other job's folder is taken for this one's
_STALE = 24 * 3600.0  # s; only where locks do not work
_AT_CWD, _EXCHANGE = -100, 2  # Linux: AT_FDCWD, RENAME_EXCHANGE; macOS: RENAME_SWAP has the same number


@contextmanager
def workplace(target: Path) -> Iterator[Path]:
    """Make a hidden folder beside ``target`` to work in; it is gone afterwards, whatever happens.

    Parameters
    ----------
    target
        Where the finished folder is to stand.

    Yields
    ------
    Path
        The folder, locked.

    Raises
    ------
    OSError
        The place cannot be written.
    """
    clean(target)
    work, lock = _locked_folder(target, _MAKING)
    try:
        yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)
        _close(lock)


def move(work: Path, target: Path, *, replace: bool) -> None:
    """Put a finished folder in its place.

    Parameters
    ----------
    work
        The finished folder.
    target
        Its place.
    replace
        Whether a folder that stands there may be replaced; it then ends up in the place of ``work``, or is removed.

    Raises
    ------
    FileExistsError
        Something stands there and may not be replaced.
    OSError
        The system refuses; what stood there stands there still.
    """
    os.chmod(work, 0o755)
    if not target.exists():
        try:
            os.rename(work, target)
            return
        except OSError:
            if not target.exists():
                raise
    if not replace:
        raise FileExistsError(f"{target} was made by another build meanwhile")
    if not _exchange(work, target):
        _in_two_moves(work, target)


def clean(target: Path) -> None:
    """Remove what killed builds of this target left behind, and put back a package that one had moved aside."""
    for left in sorted(target.parent.glob(f".{target.name}~*-*")):
        if left.is_symlink() or not left.is_dir():
            continue
        lock = _lock(left, wait=False)
        if lock is None:
            continue
        if left.name.startswith(f".{target.name}{_OLD}") and (left / "package").is_dir() and not target.exists():
            with suppress(OSError):
                os.rename(left / "package", target)
        shutil.rmtree(left, ignore_errors=True)
        _close(lock)


def _exchange(one: Path, other: Path) -> bool:
    """Swap two folders in one step, so that a kill at any moment leaves one of them whole in its place."""
    try:
        library = ctypes.CDLL(None, use_errno=True)
        paths = os.fsencode(one), os.fsencode(other)
        if sys.platform == "darwin":
            return bool(library.renamex_np(*paths, _EXCHANGE) == 0)
        return bool(library.renameat2(_AT_CWD, paths[0], _AT_CWD, paths[1], _EXCHANGE) == 0)
    except (OSError, AttributeError, TypeError):
        return False


def _in_two_moves(work: Path, target: Path) -> None:
    """Replace where the system cannot swap; `clean` puts the old one back if this is killed between the moves."""
    aside, lock = _locked_folder(target, _OLD)
    try:
        os.replace(target, aside / "package")
        try:
            os.replace(work, target)
        except OSError:
            os.replace(aside / "package", target)
            raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)
        _close(lock)


def _locked_folder(target: Path, kind: str) -> tuple[Path, int]:
    while True:
        folder = Path(tempfile.mkdtemp(prefix=f".{target.name}{kind}", dir=target.parent))
        lock = _lock(folder, wait=True)
        # Another build's cleaning may have come between the two lines above.
        if lock is not None and folder.exists():
            return folder, lock


def _lock(folder: Path, *, wait: bool) -> int | None:
    """Return a handle of the lock, -1 where there are no locks, or None when somebody works in the folder."""
    if fcntl is None:
        return -1 if wait or _is_stale(folder) else None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        os.close(handle)
        return None
    except OSError:  # a file system without locks
        os.close(handle)
        return -1 if wait or _is_stale(folder) else None
    return handle


def _is_stale(folder: Path) -> bool:
    return time.time() - folder.stat().st_mtime > _STALE


def _close(handle: int) -> None:
    if handle >= 0:
        os.close(handle)
