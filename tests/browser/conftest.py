"""The browser tests share one server and one browser."""

from labserver import lab, lab_home, run_notebook, shoot

__all__ = ["lab", "lab_home", "run_notebook", "shoot"]
