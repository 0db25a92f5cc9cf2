"""Documents held against the inputs: made again from a package's own inputs, and compared file by file.

Nothing of the package is run. What runs are the installed notebooks and writers, on the package's inputs, in a hidden
folder; they print the date and the software that the package's manifest states, so that a manifest which states
something else contradicts the documents.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from calc.files.job import Job
from calc.package.build import CALCULATION, WITHOUT_DOCUMENTS, fill_package, package_files
from calc.package.contents import difference, drawn_otherwise
from calc.package.document.pdftext import PdfError, attached_files
from calc.package.manifest import MADE, MANIFEST, RESULTS, Made, Package, PackageError, file_digest, shown
from calc.review.compare import Field
from calc.work.results import Results

AS_BUILT, SAME_CONTENT, OTHER, NOT_REBUILT, NO_DOCUMENTS = "as built", "same content", "differs", "not rebuilt", "none"
_NAMED = 6


@dataclass(frozen=True)
class DocumentVerdict:
    """What a package's documents say, held against what its inputs give: a word, a sentence, and a line for each file.

    ``word`` is ``as built`` (byte for byte), ``same content`` (other software: words, numbers and pictures' data),
    ``differs``, ``not rebuilt``, or ``none`` where a package holds no document at all.
    """

    word: str
    sentence: str
    files: tuple[str, ...] = ()


@contextmanager
def made_again(
    package: Package, job: Job, results: Results, progress: Callable[[str], None] = lambda _: None
) -> Iterator[Path]:
    """Make all files of a package again in a hidden folder, with the date and the software that its manifest states.

    Parameters
    ----------
    package
        The package.
    job
        Its inputs, as `calc.package.manifest.unpacked` gives them.
    results
        What the installed calc computed from them.
    progress
        Called with the name of each stage as it starts.

    Yields
    ------
    Path
        The folder, which is gone afterwards.

    Raises
    ------
    BuildError, NotebookError, DocumentError
        The installed calc cannot make them.
    OSError
        There is no room.
    """
    with tempfile.TemporaryDirectory(prefix=".recheck-") as scratch:
        work = Path(scratch, "made again")
        work.mkdir()
        fill_package(work, job, results, Made.of(package.manifest), progress)
        yield work


def judged_against(package: Package, folder: Path, versions: Sequence[Field]) -> DocumentVerdict:
    """Hold every listed file of a package against the one that was made again.

    Parameters
    ----------
    package
        An undamaged package.
    folder
        Where its files were made again.
    versions
        What differs in the software.

    Returns
    -------
    DocumentVerdict
        ``results.json`` is left to whoever compares numbers.
    """
    again = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*")) if path.is_file()}
    again.pop(MANIFEST)  # which states what it states: the documents print it
    listed = package.listed
    wrong = [*_parts(listed, again), *carried(package)]
    same: list[str] = []
    for name in sorted({*listed} & {*again} - {RESULTS}):
        if file_digest(again[name]) == listed[name]:
            continue
        found = _otherwise(name, package.folder / name, again[name])
        if versions and found.says_the_same:
            same.append(f"{shown(name)}: says the same, made by other software{found.drawing}")
        else:
            wrong.append(f"{shown(name)}: {found.words}")
    count = len(again) - 1
    if wrong:
        more = f"; {len(wrong) - 1} more stand below" if len(wrong) > 1 else ""
        why = f" The software differs ({_software(versions)}) and may be the cause." if versions else ""
        return DocumentVerdict(OTHER, f"{wrong[0]}{more}.{why}", (*wrong, *same))
    if same:
        sentence = (
            f"{count - len(same)} of {count} files, made again from the inputs, are the same byte for byte; in the"
            f" other {len(same)}, made by other software ({_software(versions)}), words, numbers and pictures' data are"
            " the same, and how they are drawn is not held."
        )
        return DocumentVerdict(SAME_CONTENT, sentence, tuple(same))
    return DocumentVerdict(AS_BUILT, f"{count} files were made again from the inputs, and are the same byte for byte.")


def not_rebuilt(package: Package, job: Job, results: Results) -> DocumentVerdict:
    """Say what can be said of documents that are not made again: which there are, and what the PDF carries.

    Parameters
    ----------
    package
        An undamaged package.
    job
        Its inputs.
    results
        What was computed from them.

    Returns
    -------
    DocumentVerdict
    """
    wanted = package_files(job, results)
    if package.listed.keys() == {name for name in wanted if name in WITHOUT_DOCUMENTS or name.startswith("inputs/")}:
        return DocumentVerdict(
            NO_DOCUMENTS, "the package holds inputs, results and dose list alone, and no document of a build."
        )
    wrong = [*_parts(package.listed, wanted), *carried(package)]
    said = (
        "the files have the hashes that the manifest lists, which whoever exchanges a file can make fit; recheck"
        " without --quick makes them again from the inputs"
    )
    if not wrong:
        return DocumentVerdict(NOT_REBUILT, f"{said}. What {CALCULATION} carries is what the package holds.")
    more = f"; {len(wrong) - 1} more stand below" if len(wrong) > 1 else ""
    return DocumentVerdict(OTHER, f"{wrong[0]}{more}. Nothing was rebuilt: {said}.", tuple(wrong))


def carried(package: Package) -> list[str]:
    """Compare what is attached to the calculation's PDF with what the package holds.

    Parameters
    ----------
    package
        The package.

    Returns
    -------
    list of str
        A line for each file that is another one: results, inputs, date and software.
    """
    if CALCULATION not in package.listed:
        return []
    try:
        there = attached_files((package.folder / CALCULATION).read_bytes())
    except PdfError as error:
        return [f"{CALCULATION}: cannot be read as a PDF ({shown(error, 80)})"]
    own = {RESULTS: package.results_text.encode(), MADE: Made.of(package.manifest).text().encode()}
    # Before inputs in folders went by their place, they were carried by their name alone.
    wanted = own | {name if name in there else name.rpartition("/")[2]: body for name, body in package.inputs.items()}
    told = {
        MADE: "the manifest states another date or other software than it carries",
        RESULTS: "the results.json that it carries is not the package's",
    }
    found = [
        told.get(name) or f"it carries another {shown(name)} than the package holds"
        for name, body in wanted.items()
        if name in there and there[name] != body
    ]
    found += [f"it does not carry {shown(name)}" for name in wanted if name not in there]
    found += [f"it carries {shown(name)}, which the package does not hold" for name in there if name not in wanted]
    return [f"{CALCULATION}: {one}" for one in found]


def _parts(listed: Mapping[str, object], wanted: Mapping[str, object] | set[str]) -> list[str]:
    """Files that are listed and no part of a build, and parts that are missing."""
    extra = [
        f"{shown(name)}: is listed in the manifest and is no part of a build" for name in listed if name not in wanted
    ]
    gone = sorted(set(wanted) - {*listed})
    if not gone:
        return extra
    rest = f" and {len(gone) - _NAMED} more" if len(gone) > _NAMED else ""
    return [*extra, f"missing, and not listed: {', '.join(gone[:_NAMED])}{rest}"]


@dataclass(frozen=True)
class _Otherwise:
    words: str
    says_the_same: bool
    drawing: str = ""


def _otherwise(name: str, there: Path, again: Path) -> _Otherwise:
    """In what a file is another one than that made again."""
    one, other = there.read_bytes(), again.read_bytes()
    try:
        found = difference(name, one, other)
        pages = drawn_otherwise(one, other) if name.endswith(".pdf") and not found else []
    except (PackageError, PdfError) as error:
        return _Otherwise(f"{error}; its inputs give another file", False)
    if found:
        return _Otherwise(f"says otherwise than its inputs give, in the package → made again: {found}", False)
    where = (
        f" on page {', '.join(map(str, pages[:_NAMED]))}{' and more' if len(pages) > _NAMED else ''}" if pages else ""
    )
    words = f"says what its inputs give, but is another file: drawn otherwise{where}, or with something put in"
    return _Otherwise(words, True, f", and drawn otherwise{where}" if pages else "")


def _software(versions: Sequence[Field]) -> str:
    names = [shown(one.name, 30) for one in versions]
    return ", ".join(names[:_NAMED]) + (f" and {len(names) - _NAMED} more" if len(names) > _NAMED else "")
