"""LibreOffice without a window: has workbooks computed anew, by another program than ours."""

import os
import shutil
import subprocess

import openpyxl
import pytest

SOFFICE = shutil.which("soffice")
NEEDS_OFFICE = pytest.mark.skipif(
    SOFFICE is None and not os.environ.get("WORKBOOK_NO_SKIP"),
    reason="LibreOffice (Debian's libreoffice-calc-nogui) is not installed: no other program recalculates",
)
# Values that a file brings along are not believed: every formula is computed when the file is opened.
_ALWAYS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode"><value>0</value></prop>
</item>
</oor:items>
"""


def converted(paths, folder, kind):
    """Convert files into another kind in one run; returns the new files in their order."""
    profile = folder / "profile"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(_ALWAYS, encoding="utf-8")
    assert SOFFICE, "LibreOffice is not installed"
    subprocess.run(
        [SOFFICE, f"-env:UserInstallation={profile.as_uri()}", "--headless", "--convert-to", kind, "--outdir", folder]
        + list(paths),
        check=True,
        capture_output=True,
        timeout=300,
    )
    return [folder / path.with_suffix(f".{kind}").name for path in paths]


def recalculated(paths, folder):
    """Have workbooks computed anew; returns them with the values that came out."""
    return [openpyxl.load_workbook(path, data_only=True) for path in converted(paths, folder, "xlsx")]
