"""Serial numbers: check characters by the standard, an alphabet without look-alikes, and reading off a rod."""

from __future__ import annotations

import string
from itertools import combinations
from pathlib import Path

import pytest
from confusable_homoglyphs import confusables
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_11_10, mod_37_36

from cutpaths.errors import InputError
from cutpaths.inputs.serial import (
    DIGITS,
    LOOK_ALIKES,
    PLAIN,
    SerialStyle,
    check_character,
    check_holds,
    read_serial,
    written_serial,
)
from cutpaths.inputs.workshop import parse_workshop, read_register_file

LETTERS_TOO = string.digits + string.ascii_uppercase


@pytest.mark.parametrize(
    ("text", "alphabet", "check"),
    [
        ("0794", DIGITS, "5"),  # MOD 11,10, the example of ISO/IEC 7064, from memory
        ("A12425GABC1234002", LETTERS_TOO, "M"),  # MOD 37,36, the example of the GRid Standard (IFPI), from memory
        ("0000000012814D8B", LETTERS_TOO, None),
        ("3669281", DIGITS, None),
    ],
)
def test_check_characters_are_those_of_the_standard(text: str, alphabet: str, check: str | None) -> None:
    """None: no published value; the reference library python-stdnum gives it."""
    if check is None:
        check = mod_11_10.calc_check_digit(text) if alphabet == DIGITS else mod_37_36.calc_check_digit(text)
    assert check_character(text, alphabet) == check
    assert check_holds(text + check, alphabet)


@given(st.text(DIGITS, min_size=1, max_size=12))
def test_digits_agree_with_the_reference_library(text: str) -> None:
    assert check_character(text, DIGITS) == mod_11_10.calc_check_digit(text)


@given(st.text(LETTERS_TOO, min_size=1, max_size=12))
def test_letters_agree_with_the_reference_library(text: str) -> None:
    assert check_character(text, LETTERS_TOO) == mod_37_36.calc_check_digit(text)


@pytest.mark.parametrize("alphabet", [DIGITS, PLAIN])
def test_every_wrong_character_and_nearly_every_swap_is_found(alphabet: str) -> None:
    """ISO/IEC 7064 promises of its systems: all single substitutions, almost all swaps of neighbours."""
    style = SerialStyle(alphabet=alphabet, length=4, check=True)
    swaps = missed = 0
    for number in range(0, 5000, 7):
        good = written_serial(number, style)
        assert check_holds(good, alphabet)
        for at, old in enumerate(good):
            wrong = [good[:at] + new + good[at + 1 :] for new in alphabet if new != old]
            assert not any(check_holds(text, alphabet) for text in wrong)
        for at in range(len(good) - 1):
            swapped = good[:at] + good[at + 1] + good[at] + good[at + 2 :]
            swaps += swapped != good
            missed += swapped != good and check_holds(swapped, alphabet)
    assert missed < 0.03 * swaps


def test_the_plain_alphabet_has_no_look_alikes() -> None:
    """Unicode Technical Standard 39, confusables.txt (as packed in confusable-homoglyphs), and our own groups."""
    for a, b in combinations(PLAIN, 2):
        assert not _confusable(a, b)
        assert not _confusable(a.lower(), b.lower())
    for group in LOOK_ALIKES:
        assert sum(c in PLAIN for c in group) == 1
    assert len(PLAIN) == len(set(PLAIN)) == 24
    assert not set(PLAIN) & set("AEIOU")


def _confusable(a: str, b: str) -> bool:
    found = confusables.is_confusable(a, greedy=True, preferred_aliases=[])
    return bool(found) and any(b == other["c"] for entry in found for other in entry["homoglyphs"])


def test_the_table_of_look_alikes_can_tell() -> None:
    assert _confusable("0", "O")
    assert _confusable("l", "I")


@given(st.integers(0, 10**9), st.integers(0, 10**9), st.booleans(), st.sampled_from([DIGITS, PLAIN, LETTERS_TOO]))
def test_different_numbers_are_written_differently_and_read_back(a: int, b: int, check: bool, alphabet: str) -> None:
    style = SerialStyle(alphabet=alphabet, length=3, prefix="OR-", check=check)
    assert (written_serial(a, style) == written_serial(b, style)) == (a == b)
    assert read_serial(written_serial(a, style), style) == written_serial(a, style)
    assert read_serial(f" {written_serial(a, style)[3:].lower()} ", style) == written_serial(a, style)


def test_what_was_misread_is_put_right_or_refused() -> None:
    style = SerialStyle(alphabet=PLAIN, length=4, prefix="OR-", check=True)
    assert written_serial(41, style) == "OR-001P" + check_character("001P", PLAIN)
    said = written_serial(41, style)
    assert read_serial(said.replace("0", "O").replace("1", "l"), style) == said
    with pytest.raises(InputError, match="check character"):
        read_serial("OR-002P" + said[-1], style)
    with pytest.raises(InputError, match="no serial number"):
        read_serial("OR-00A1", style)
    with pytest.raises(InputError, match="no serial number"):
        read_serial("", style)
    both = SerialStyle(alphabet=LETTERS_TOO)
    assert read_serial("o", both) == "O"  # with 0 and O in use nothing is guessed


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[serial]\nalphabet = "AAB"', "twice"),
        ('[serial]\nalphabet = "A"', "2 to 100"),
        ('[serial]\nalphabet = "ABC"\ncheck = true', "even number"),
        ("[serial]\nlength = 0", "1 to 12"),
        ('[serial]\nprefix = "{x}"', "braces"),
        ("[serial]\nfirst = -1", "0 to"),
        ("[serial]\nfirst = true", "whole number"),
        ("[serial]\ncheck = 1", "true or false"),
        ("[serial]\nfrist = 1", "did you mean first"),
        ("register = 3", "file's name"),
    ],
)
def test_a_slip_in_the_workshops_file_is_told(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        parse_workshop(text)


def test_the_register_lies_beside_the_workshops_file(tmp_path: Path) -> None:
    folder = tmp_path
    (folder / "w.toml").write_text('register = "o.sqlite"\n[serial]\nalphabet = "plain"\ncheck = true\n')
    found = read_register_file(folder / "w.toml")
    assert found is not None
    assert (found.path, found.style.alphabet, found.style.check) == (folder / "o.sqlite", PLAIN, True)
    (folder / "w.toml").write_text("scale_x = 1.0\n")
    assert read_register_file(folder / "w.toml") is None
    assert read_register_file(None) is None
