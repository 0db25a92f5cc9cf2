"""The one root of all exceptions by which this workbook refuses what it was given.

A `CalcError` is a sentence for the person at the keyboard: what is wrong, where, and what is accepted. Command line,
panels and readers catch it and nothing else, so that a bug, which raises anything but this, is never told as the user's
mistake.
"""

from __future__ import annotations


class CalcError(Exception):
    """What was given is refused; the text says why and what is accepted."""


class NotAccepted(CalcError, ValueError):
    """A value that is not accepted.

    It is a `ValueError` as well, because callers outside rely on that: pydantic takes nothing else from a validator,
    and whoever calls a formula from a script of their own expects it of Python.
    """


class NotListed(CalcError, KeyError):
    """A name that is asked for and is not there; a `KeyError` as well, since what is asked is a kind of mapping."""

    def __str__(self) -> str:
        """Return the sentence; a `KeyError` would put it in quotation marks."""
        return str(self.args[0])


FAULT = "This is a fault of the workbook: nothing that was entered is to blame. Please report it, with what you did."
