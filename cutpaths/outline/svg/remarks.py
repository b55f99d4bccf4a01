"""Remarks: what was noticed on the way through a drawing."""

from __future__ import annotations

from cutpaths.notes import Note, Rule


class Remarks:
    """What was noticed on the way, each kind once, with the first line of the file and how often."""

    def __init__(self) -> None:
        self._seen: dict[str, list[int]] = {}

    def __call__(self, text: str, line: int) -> None:
        """One more; line 0 for what has no place in the file."""
        self._seen.setdefault(text, []).append(line)

    def notes(self) -> list[Note]:
        """One note for each kind."""
        found = []
        for text, lines in self._seen.items():
            where = f" (line {lines[0]})" if lines[0] else ""
            often = f", {len(lines)} times" if len(lines) > 1 else ""
            found.append(Note(rule=Rule.OUTLINE, text=f"{text}{where}{often}"))
        return found
