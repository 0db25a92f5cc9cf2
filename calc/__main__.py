"""``python -P -m calc``: see `calc.cli`. Without ``-P`` Python looks into the present folder before any line here."""

import sys

from calc.base.command import import_nothing_from_here

import_nothing_from_here()

from calc.cli import main  # noqa: E402 (what it imports is looked for after the line above)

sys.exit(main())
