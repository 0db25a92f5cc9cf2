"""The browser tests share one server and one browser."""

from labserver import browser, lab, lab_home, run_notebook, shoot

__all__ = ["browser", "lab", "lab_home", "run_notebook", "shoot"]
