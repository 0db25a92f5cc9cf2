"""What changed between two calculations: what somebody changed, what follows from it, what the documents say.

`change` is the record of one change, `tables` pairs rows by what they are about; `inputs`, `results` and `documents`
find changes, `comparison` puts them in order, `page` writes them down.
"""

from calc.review.compare.change import Change, Field
from calc.review.compare.comparison import (
    ON_PURPOSE,
    Comparison,
    as_before,
    called,
    compare,
    sound,
    version_changes,
    with_causes,
)
from calc.review.compare.inputs import input_changes, renamed_marks
from calc.review.compare.results import FLOOR, TOLERANCE, attributed, changes, in_one_form, same

__all__ = [
    "FLOOR",
    "ON_PURPOSE",
    "TOLERANCE",
    "Change",
    "Comparison",
    "Field",
    "as_before",
    "attributed",
    "called",
    "changes",
    "compare",
    "in_one_form",
    "input_changes",
    "renamed_marks",
    "same",
    "sound",
    "version_changes",
    "with_causes",
]
