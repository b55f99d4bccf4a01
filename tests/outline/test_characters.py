"""What is done with characters before they are shaped. Unicode names and classes: the Unicode database in Python."""

from __future__ import annotations

import unicodedata

import pytest

from cutpaths.errors import InputError
from cutpaths.outline.characters import missing_sentence, named, read_wording


def test_lines_are_split_stripped_and_composed() -> None:
    wording = read_wording("  Otterhythe |\u00a0No. 7\u2009|e\u0301")
    assert wording.lines == ("Otterhythe", "No. 7", "é")
    assert wording.text == "Otterhythe|No. 7|é"
    assert wording.notes == ()


@pytest.mark.parametrize("text", ["", "   ", "|", " | "])
def test_nothing_to_draw(text: str) -> None:
    with pytest.raises(InputError, match="no text"):
        read_wording(text)


def test_an_empty_line_is_numbered() -> None:
    with pytest.raises(InputError, match="line 2"):
        read_wording("A| |B")


def test_length_limits() -> None:
    assert len(read_wording("|".join(["x" * 200] * 2)).lines) == 2
    with pytest.raises(InputError, match="line 1 has 201"):
        read_wording("x" * 201)
    with pytest.raises(InputError, match="401 characters"):
        read_wording("|".join(["x" * 200, "x" * 200, "x"]))
    with pytest.raises(InputError, match="500"):
        read_wording("x" * 500)


@pytest.mark.parametrize(
    ("character", "name"),
    [
        ("\t", "U\\+0009 TAB"),
        ("\n", "U\\+000A LINE FEED"),
        ("\x00", "U\\+0000 NULL"),
        ("\x07", "U\\+0007"),
        ("\u00ad", "SOFT HYPHEN"),
        ("\u034f", "COMBINING GRAPHEME JOINER"),
        ("\u200b", "ZERO WIDTH SPACE"),
        ("\u200d", "ZERO WIDTH JOINER"),
        ("\u200e", "LEFT-TO-RIGHT MARK"),
        ("\u202e", "RIGHT-TO-LEFT OVERRIDE"),
        ("\u2066", "LEFT-TO-RIGHT ISOLATE"),
        ("\u2028", "LINE SEPARATOR"),
        ("\ufeff", "ZERO WIDTH NO-BREAK SPACE"),
        ("\ufe0f", "VARIATION SELECTOR-16"),
        ("\u3164", "HANGUL FILLER"),
        ("\udcff", "U\\+DCFF"),
    ],
)
def test_invisible_characters_are_refused_by_name(character: str, name: str) -> None:
    with pytest.raises(InputError, match=f"{name}.*after 'Mar'") as caught:
        read_wording(f"Mar{character}sh")
    assert character not in str(caught.value)


def test_every_format_and_control_character_is_refused() -> None:
    for code in range(0x110000):
        if unicodedata.category(chr(code)) in ("Cc", "Cf"):
            with pytest.raises(InputError):
                read_wording(f"a{chr(code)}b")


def test_joiners_are_spelling_in_cursive_alphabets() -> None:
    """Persian writes ZERO WIDTH NON-JOINER inside words. Source: Unicode Standard 23.2."""
    assert "\u200c" in read_wording("می\u200cخواهم").text
    with pytest.raises(InputError, match="NON-JOINER"):
        read_wording("می\u200cخواهم a\u200cb")


@pytest.mark.parametrize("text", ["\u0301a", "a \u0301"])
def test_a_mark_needs_a_letter(text: str) -> None:
    with pytest.raises(InputError, match="COMBINING ACUTE ACCENT"):
        read_wording(text)


@pytest.mark.parametrize(
    ("text", "odd"),
    [("Оtter", "CYRILLIC CAPITAL LETTER O"), ("Оттеp", "LATIN SMALL LETTER P"), ("Ηythe", "GREEK CAPITAL LETTER ETA")],
)
def test_mixed_alphabets_are_noted(text: str, odd: str) -> None:
    (note,) = read_wording(f"Old {text} 7").notes
    assert odd in note.text
    assert text in note.text


def test_words_of_one_alphabet_each_are_not() -> None:
    assert read_wording("Otter Выдра Ενυδρίς 7").notes == ()


def test_doubled_spaces_are_noted_and_kept() -> None:
    wording = read_wording("No.  7")
    assert wording.text == "No.  7"
    assert "'No.'" in wording.notes[0].text
    assert len(wording.notes) == 1


@pytest.mark.parametrize(
    ("text", "meanings"),
    [("9’", ["feet"]), ("9’6”", ["feet", "inches"]), ("54“", ["inches"]), ("90’s", []),
     ("Otter’s 9", []), ("9′6″", []), ("9'6\"", [])],
)  # fmt: skip
def test_curly_marks_for_measures_are_noted(text: str, meanings: list[str]) -> None:
    notes = read_wording(text).notes
    assert len(notes) == len(meanings)
    for note, meaning in zip(notes, meanings, strict=True):
        assert meaning in note.text
        assert ("′" if meaning == "feet" else "″") in note.text


def test_named() -> None:
    assert named("Ł") == "'Ł' (U+0141 LATIN CAPITAL LETTER L WITH STROKE)"
    assert named("\u0301") == "U+0301 COMBINING ACUTE ACCENT"


def test_missing_sentence_names_and_offers() -> None:
    one = missing_sentence("Otter Sans", ["Ł"], ["A", "B"])
    assert "U+0141 LATIN CAPITAL LETTER L WITH STROKE" in one
    assert one.endswith("A, B")
    assert "no bundled font" in missing_sentence("Otter Sans", ["Ł"], [])
    assert "2 more" in missing_sentence("Otter Sans", "ŁĄĘŚĆŻŹ", [])
