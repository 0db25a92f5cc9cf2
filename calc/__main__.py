"""``python -m calc``: see `calc.cli`."""

import sys

from calc.cli import main

sys.exit(main())
