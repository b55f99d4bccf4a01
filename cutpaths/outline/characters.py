"""Characters: what is done with the words before they are shaped.

Done silently: Unicode normal form C, spaces at the edges of a line taken off, `|` starts a new line.
Refused: nothing to draw, too much of it, and characters that draw nothing but change what is drawn.
Noted, and left as typed: alphabets mixed in one word, doubled spaces, curly marks where feet or inches are meant.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from cutpaths.errors import InputError
from cutpaths.notes import Note, Rule

LONGEST_LINE, LONGEST_TEXT = 200, 400  # characters; a metre of 4 mm letters, far over any blank

# Unicode gives controls no name.
_CONTROL_NAMES = {0: "NULL", 9: "TAB", 10: "LINE FEED", 13: "CARRIAGE RETURN", 27: "ESCAPE", 127: "DELETE"}
# Characters that draw nothing yet are not of category Cf or Cc.
# Source: Unicode DerivedCoreProperties, Default_Ignorable_Code_Point.
_INVISIBLE = {0x034F, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x3164, 0xFFA0, *range(0x180B, 0x1810), *range(0xFE00, 0xFE10)}
_JOINERS = "\u200c\u200d"  # ZERO WIDTH NON-JOINER and JOINER
# Alphabets in which the two joiners are ordinary spelling. Source: Unicode Standard 23.2, Cursive Connection.
_JOINER_ALPHABETS = (
    "ARABIC", "SYRIAC", "NKO", "MONGOLIAN", "DEVANAGARI", "BENGALI", "GURMUKHI", "GUJARATI", "ORIYA", "TAMIL", "TELUGU",
    "KANNADA", "MALAYALAM", "SINHALA",
)  # fmt: skip
_ALPHABETS = ("LATIN", "GREEK", "CYRILLIC")
_CURLY_FOR = {"’": ("feet", "′ or '"), "‘": ("feet", "′ or '"), "”": ("inches", '″ or "'), "“": ("inches", '″ or "')}
_MEASURE = re.compile(r"(?<=[0-9])[’‘”“](?![^\W\d_])")  # not before a letter, so that 90’s passes
# Every space of category Zs. Source: Unicode general category.
_SPACES = " \u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f\u3000"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wording:
    """Words ready to be shaped.

    text: as it is drawn, lines joined by `|`.
    lines: each line, in normal form C, without spaces at its edges, not empty.
    notes: what a maker would want to look at twice.
    """

    text: str
    lines: tuple[str, ...]
    notes: tuple[Note, ...] = ()


def read_wording(text: str) -> Wording:
    """The words of a label, line by line.

    Raises: InputError: empty text or line, text over the limits, or a character that draws nothing.
    """
    lines = tuple(line.strip(_SPACES) for line in unicodedata.normalize("NFC", text).split("|"))
    if not any(lines):
        raise InputError("there is no text to draw")
    for number, line in enumerate(lines, start=1):
        if not line:
            raise InputError(f"line {number} of the text is empty; `|` stands between lines only")
        if len(line) > LONGEST_LINE:
            raise InputError(f"line {number} has {len(line)} characters; a line takes up to {LONGEST_LINE}")
        for place, character in enumerate(line):
            _refuse_invisible(character, line[:place])
        _refuse_loose_marks(line)
    if sum(map(len, lines)) > LONGEST_TEXT:
        raise InputError(f"the text has {sum(map(len, lines))} characters; a label takes up to {LONGEST_TEXT}")
    notes = (*_mixed_alphabets(lines), *_doubled_spaces(lines), *_curly_measures(lines))
    return Wording(text="|".join(lines), lines=lines, notes=notes)


def named(character: str) -> str:
    """How a character is told to the maker: itself if it can be seen, its code point and its Unicode name."""
    code = ord(character)
    name = unicodedata.name(character, "") or _CONTROL_NAMES.get(code, "")
    label = f"U+{code:04X} {name}".rstrip()
    seen = unicodedata.category(character)[0] in "LNPS" and not draws_nothing(character)
    return f"{character!r} ({label})" if seen else label


def draws_nothing(character: str) -> bool:
    """Whether a character leaves no ink by its nature: spaces, joiners."""
    return unicodedata.category(character) in ("Zs", "Cf") or ord(character) in _INVISIBLE


def missing_sentence(face: str, missing: Iterable[str], found_in: Iterable[str]) -> str:
    """The sentence for characters that a face lacks; `found_in` names bundled fonts that have all of them."""
    names = [named(c) for c in missing]
    listed = ", ".join(names[:5]) + (f" and {len(names) - 5} more" if len(names) > 5 else "")
    fonts = ", ".join(found_in)
    cure = f"bundled fonts that have {'it' if len(names) == 1 else 'them all'}: {fonts}" if fonts else (
        f"no bundled font has {'it' if len(names) == 1 else 'them all'}"
    )  # fmt: skip
    return f"{face} does not have {listed}; {cure}"


def _refuse_invisible(character: str, before: str) -> None:
    category = unicodedata.category(character)
    if category not in ("Cc", "Cf", "Cs", "Zl", "Zp") and ord(character) not in _INVISIBLE:
        return
    if character in _JOINERS and before and unicodedata.name(before[-1], "").startswith(_JOINER_ALPHABETS):
        return
    place = f"after {before[-12:]!r}" if before else "at the beginning"
    raise InputError(f"the text holds {named(character)} {place}, which draws nothing; delete it")


def _refuse_loose_marks(line: str) -> None:
    """A combining mark needs a letter to sit on."""
    for previous, character in zip(" " + line, line, strict=False):
        if unicodedata.category(character) in ("Mn", "Me") and previous.isspace():
            raise InputError(f"{named(character)} has no letter to sit on; write it after its letter")


def _note(text: str) -> Note:
    return Note(rule=Rule.CHARACTERS, text=text)


def _alphabet(character: str) -> str:
    name = unicodedata.name(character, "")
    return next((a for a in _ALPHABETS if name.startswith(a + " ")), "")


def _mixed_alphabets(lines: tuple[str, ...]) -> list[Note]:
    """One note for each word that holds letters of more than one of the look-alike alphabets."""
    notes = []
    for word in (w for line in lines for w in re.findall(r"\w+", line)):
        used = [_alphabet(c) for c in word]
        kinds = [a for a in _ALPHABETS if a in used]
        if len(kinds) > 1:
            usual = max(kinds, key=used.count)
            odd = dict.fromkeys(c for c, a in zip(word, used, strict=True) if a not in ("", usual))
            listed = ", ".join(named(c) for c in odd)
            mixed = " and ".join(k.capitalize() for k in kinds)
            notes.append(_note(f"{word!r} mixes {mixed} letters that can look alike: {listed}"))
    return notes


def _doubled_spaces(lines: tuple[str, ...]) -> list[Note]:
    return [
        _note(f"more than one space after {line[: found.start()].split()[-1]!r}; kept as typed")
        for line in lines
        for found in re.finditer(r"(?<=\S)\s{2,}", line)
    ]


def _curly_measures(lines: tuple[str, ...]) -> list[Note]:
    notes = []
    for line in lines:
        for found in _MEASURE.finditer(line):
            meaning, offered = _CURLY_FOR[found.group()]
            token = line[: found.end()].split()[-1]
            notes.append(_note(f"{token!r} ends in a curly quotation mark; for {meaning} write {offered}"))
    return notes
