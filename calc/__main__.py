"""``python -m calc``: see `calc.report.cli`."""

import sys

from calc.report.cli import main

sys.exit(main())
