"""Serial numbers as they are written on rods: an alphabet without look-alikes, and a check character where wanted.

In workshop.toml:

    [serial]
    alphabet = "plain"       # or "digits", which is usual; or "0123456789X", characters of your own
    length = 4               # at least so many characters
    prefix = "OR-"
    check = true             # one more character, which tells a slip of reading or typing
    first = 100              # numbers begin here, or go on here
"""

from __future__ import annotations

from dataclasses import dataclass

from cutpaths.errors import InputError
from cutpaths.inputs.toml_table import Table

DIGITS = "0123456789"
# What is read for what on a thin rod. Of each group the first alone is written; the others are read as it.
# Common practice: 0 O Q D, 1 I L, 2 Z, 5 S, 6 G, 8 B and U V are the pairs that small lettering, wear and hands mix up.
LOOK_ALIKES = ("0OQD", "1IL", "2Z", "5S", "6G", "8B", "VU")
# No vowels: no number spells a word. An even count, which the check character needs.
PLAIN = "0123456789CFHJKMNPRTVWXY"
ALPHABETS = {"digits": DIGITS, "plain": PLAIN}
LONGEST, LONGEST_PREFIX = 12, 20
MOST = 10**12


@dataclass(frozen=True, slots=True, kw_only=True)
class SerialStyle:
    """How a workshop writes its numbers. length: least number of characters without prefix and check character."""

    alphabet: str = DIGITS
    length: int = 1
    prefix: str = ""
    check: bool = False
    first: int = 1

    def __post_init__(self) -> None:
        doubled = sorted({c for c in self.alphabet if self.alphabet.count(c) > 1})
        if doubled:
            raise InputError(f"the alphabet of serial numbers has {doubled[0]!r} twice")
        if not 2 <= len(self.alphabet) <= 100 or any(c.isspace() or not c.isprintable() for c in self.alphabet):
            raise InputError("the alphabet of serial numbers is 2 to 100 characters that can be seen")
        if self.check and len(self.alphabet) % 2:
            raise InputError("a check character needs an alphabet with an even number of characters")
        if not 1 <= self.length <= LONGEST:
            raise InputError(f"a serial number has from 1 to {LONGEST} characters, got {self.length}")
        if len(self.prefix) > LONGEST_PREFIX or any(c in self.prefix for c in "{}|") or not self.prefix.isprintable():
            raise InputError(f"the prefix of serial numbers is up to {LONGEST_PREFIX} characters without braces or |")
        if not 0 <= self.first <= MOST:
            raise InputError(f"serial numbers begin from 0 to {MOST}, got {self.first}")


def written_serial(number: int, style: SerialStyle) -> str:
    """The number as it stands on the rod. Raises: ValueError: it is negative."""
    if number < 0:
        raise ValueError(f"a serial number is not negative, got {number}")
    base, found = len(style.alphabet), ""
    while number or not found:
        number, digit = divmod(number, base)
        found = style.alphabet[digit] + found
    found = found.rjust(style.length, style.alphabet[0])
    return style.prefix + found + (check_character(found, style.alphabet) if style.check else "")


def check_character(text: str, alphabet: str) -> str:
    """The check character of a text in that alphabet, by the hybrid system of ISO/IEC 7064.

    With M characters it is MOD M+1,M: MOD 11,10 for digits, MOD 27,26 for letters, MOD 37,36 for both; the standard
    names those three, and its recursion holds for every even M. Each wrong character is found, and nearly each swap of
    neighbours. Raises: ValueError: the text has another character, or M is odd.
    Source: ISO/IEC 7064:2003, clause 9 (hybrid systems).
    """
    return alphabet[-(_recursion(text, alphabet) - 1) % len(alphabet)]


def check_holds(text: str, alphabet: str) -> bool:
    """Whether the last character of the text is the check character of the others."""
    return len(text) > 1 and (_recursion(text[:-1], alphabet) + alphabet.index(text[-1])) % len(alphabet) == 1


def _recursion(text: str, alphabet: str) -> int:
    """Twice P of the next place, P being what the standard's recursion leaves after the text."""
    size = len(alphabet)
    if size % 2:
        raise ValueError("the alphabet of a check character has an even number of characters")
    product = size
    for character in text:
        product = 2 * ((product + alphabet.index(character)) % size or size) % (size + 1)
    return product


def read_serial(text: str, style: SerialStyle) -> str:
    """A number as somebody read it off a rod, in the characters that it was written in.

    Case, spaces and look-alikes are put right where the alphabet leaves no doubt.
    Raises: InputError: a character that it cannot be, or a check character that does not fit.
    """
    bare = text.strip()
    if bare.casefold().startswith(style.prefix.casefold()):
        bare = bare[len(style.prefix) :]
    found = "".join(_meant(c, style.alphabet) for c in bare if not c.isspace())
    unknown = next((c for c in found if c not in style.alphabet), None)
    if unknown is not None or not found:
        raise InputError(f"{text!r} is no serial number: its characters are {style.alphabet}")
    if style.check and not check_holds(found, style.alphabet):
        raise InputError(f"{text!r} was read or typed wrongly: its check character does not fit")
    return style.prefix + found


def _meant(character: str, alphabet: str) -> str:
    for tried in (character, character.upper(), character.lower()):
        if tried in alphabet:
            return tried
    for group in LOOK_ALIKES:
        in_use = [c for c in group if c in alphabet]
        if character.upper() in group and len(in_use) == 1:
            return in_use[0]
    return character


def serial_style(top: Table) -> SerialStyle:
    """The style under [serial] of a workshop's file. Raises: InputError, with file and line."""
    table = top.table("serial")
    table.only("alphabet", "length", "prefix", "check", "first")
    values = table.values
    for key, kind, words in (("alphabet", str, "text in quotes"), ("prefix", str, "text in quotes"),
                             ("check", bool, "true or false"), ("length", int, "a whole number"),
                             ("first", int, "a whole number")):  # fmt: skip
        if key in values and (not isinstance(values[key], kind) or (kind is int and isinstance(values[key], bool))):
            raise table.wrong(key, f"must be {words}, got {values[key]!r}")
    given = dict(values)
    if "alphabet" in given:
        given["alphabet"] = ALPHABETS.get(given["alphabet"], given["alphabet"])
    try:
        return SerialStyle(**given)
    except InputError as error:
        raise top.file.wrong("serial", f"cannot be used: {error}") from None
