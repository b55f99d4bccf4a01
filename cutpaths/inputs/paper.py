"""Paper: the sheets that a workshop's printer takes."""

from __future__ import annotations

from enum import StrEnum


class Paper(StrEnum):
    """Names of paper sizes."""

    A4 = "A4"
    A3 = "A3"
    LETTER = "letter"
    TABLOID = "tabloid"


# Short side, long side. Source: ISO 216 for A4 and A3; ANSI/ASME Y14.1 for the others (8.5 x 11 and 11 x 17 in).
PAPER_MM: dict[Paper, tuple[float, float]] = {
    Paper.A4: (210.0, 297.0),
    Paper.A3: (297.0, 420.0),
    Paper.LETTER: (215.9, 279.4),
    Paper.TABLOID: (279.4, 431.8),
}
