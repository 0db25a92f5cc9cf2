"""A long run, started by one command: ``python -m pytest tests/long``.

The test command leaves this folder out by itself.
"""

from pathlib import Path

from labserver import lab, lab_home, run_notebook, shoot

__all__ = ["lab", "lab_home", "run_notebook", "shoot"]
HERE = Path(__file__).resolve().parent


def pytest_ignore_collect(collection_path, config):
    named = [
        Path(config.invocation_params.dir, str(argument).split("::")[0]).resolve()
        for argument in config.invocation_params.args
    ]
    return None if any(path == HERE or HERE in path.parents for path in named) else True
