"""What can go wrong, and the exit code that it becomes.

CutpathsError
  InputError        exit 2: the request cannot be understood or its input cannot be used
  CannotMakeError   exit 1: the request is clear, but a limit or the blank forbids it; carries cures
  BrokenPromiseError exit 1: the file as written does not keep a promise, so it was not saved
"""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.notes import Note


class CutpathsError(Exception):
    """Base of every error that is meant for the maker; the text is one plain sentence."""

    exit_code = 2


class InputError(CutpathsError):
    """The request cannot be understood, or what it names cannot be used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cure:
    """One single change that was tried and makes the request possible."""

    text: str
    option: str = ""


class CannotMakeError(CutpathsError):
    """A limit of the method or the blank forbids it. `notes` say where, `cures` what would help, `untried` in words
    what was not looked for, or not to the end, because trying it takes too long.
    """

    exit_code = 1

    def __init__(
        self, text: str, *, notes: tuple[Note, ...] = (), cures: tuple[Cure, ...] = (), untried: tuple[str, ...] = ()
    ) -> None:
        super().__init__(text)
        self.notes = notes
        self.cures = cures
        self.untried = untried

    @property
    def beyond(self) -> str:
        """What was not looked for as a sentence; empty where everything was."""
        if not self.untried:
            return ""
        return f"Not looked for to the end, as so much outline takes too long to try: {', '.join(self.untried)}."


class BrokenPromiseError(CutpathsError):
    """The finished file was read back and breaks a promise; it was not saved."""

    exit_code = 1

    def __init__(self, text: str, *, notes: tuple[Note, ...] = ()) -> None:
        super().__init__(text)
        self.notes = notes
