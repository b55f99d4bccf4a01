"""Lines of different faces, sizes and alignments, and corrections by hand."""

from __future__ import annotations

import pytest
import shapely

from cutpaths.errors import InputError
from cutpaths.inputs.font import open_font
from cutpaths.inputs.line import Align, Hand, Line
from cutpaths.inputs.tool import Method, tool
from cutpaths.outline.lettering import Letter
from cutpaths.outline.lines import BESIDE_GAP, Part, align_moves, set_lines
from cutpaths.outline.text import LINE_GAP, line_ink, shape_text
from cutpaths.shape.compose import Set, compose

SANS = open_font("Barlow Condensed SemiBold")
SERIF = open_font("Source Serif 4")
CAP_MM = 10.0


def parts(*, align: Align = Align.CENTRE) -> list[Part]:
    return [
        Part(lettering=shape_text("HERON", SERIF), size=1.5),
        Part(lettering=shape_text("No. 7", SANS), size=0.5, align=align),
    ]


def made_ends(align: Align) -> list[tuple[float, float]]:
    """Left and right end of both lines as they are made by the knife, mm."""
    lettering = set_lines(parts(align=align), text="HERON|No. 7")
    letters = compose(lettering, tool(Method.VINYL), cap_height_mm=CAP_MM).letters
    return [ends(letters[:5]), ends(letters[5:])]


def ends(letters: tuple[Set, ...]) -> tuple[float, float]:
    x0, _, x1, _ = shapely.union_all([letter.made for letter in letters]).bounds
    return x0, x1


def test_capitals_have_the_height_asked_for() -> None:
    lettering = set_lines(parts(), text="HERON|No. 7")
    made = compose(lettering, tool(Method.VINYL), cap_height_mm=CAP_MM)
    heights = [letter.made.bounds[3] - letter.made.bounds[1] for letter in made.letters]
    assert heights[0] == pytest.approx(1.5 * CAP_MM, abs=0.01)  # H; a flat letter is as high as its cap line
    assert heights[5] == pytest.approx(0.5 * CAP_MM, abs=0.01)  # N


def test_lines_do_not_touch_and_small_ones_keep_less_room() -> None:
    first, second = set_lines(parts(), text="HERON|No. 7").lines
    assert line_ink(first)[1] - line_ink(second)[3] == pytest.approx(LINE_GAP, abs=0.02)  # O hangs below the line


@pytest.mark.parametrize("align", list(Align))
def test_ends_meet_after_the_knife_has_made_room(align: Align) -> None:
    (x0, x1), (x2, x3) = made_ends(align)
    off = {Align.LEFT: x2 - x0, Align.CENTRE: (x2 + x3 - x0 - x1) / 2, Align.RIGHT: x3 - x1}
    assert off[align] == pytest.approx(0.0, abs=0.002)
    assert sum(abs(value) > 1.0 for value in off.values()) == 2


def test_moves_can_be_told_apart() -> None:
    assert align_moves([(0, 10), (5, 7)], [Align.LEFT, Align.RIGHT]) == [0.0, 3.0]
    assert align_moves([(0, 10), (5, 7)], []) == [0.0, -1.0]


def test_a_mark_stands_beside_words_at_the_middle_of_their_capitals() -> None:
    mark = Part(lettering=shape_text("O", SANS), size=2.0, marked=True)
    words = Part(lettering=shape_text("HE", SANS), beside=True)
    ((drawn, *letters),) = set_lines([mark, words], text="O|HE").lines
    assert [letter.y for letter in letters] == [0.0, 0.0]
    assert drawn.y == -0.5
    assert line_ink(letters)[0] - line_ink([drawn])[2] == pytest.approx(2.0 * BESIDE_GAP)


def test_same_letters_of_two_sizes_are_told_apart() -> None:
    both = [Part(lettering=shape_text("H", SANS)), Part(lettering=shape_text("H", SANS), size=0.5)]
    first, second = (line[0] for line in set_lines(both, text="H|H").lines)
    assert first.key != second.key
    assert second.cap_height == 0.5


def letters(text: str, *hands: Hand) -> tuple[Letter, ...]:
    return shape_text(text, SANS, hands=hands).lines[0]


def left_ends(text: str, *hands: Hand) -> list[float]:
    """Left ends of the letters as made in vinyl, mm."""
    made = compose(shape_text(text, SANS, hands=hands), tool(Method.VINYL), cap_height_mm=CAP_MM / 2)
    return [letter.made.bounds[0] for letter in made.letters]


def test_room_at_a_pair_comes_on_top_of_ours() -> None:
    plain, by_hand = left_ends("HIHI"), left_ends("HIHI", Hand(pair="HI", space=0.1))
    assert plain != left_ends("HIHI", Hand(pair="HI", space=0.0001))
    moved = [b - a for a, b in zip(plain, by_hand, strict=True)]
    assert moved == pytest.approx([0.0, 0.5, 0.5, 1.0], abs=0.002)  # a tenth of a 5 mm cap height at each pair


def test_a_letter_is_shifted_and_the_others_stay() -> None:
    plain, by_hand = left_ends("HOHO"), left_ends("HOHO", Hand(letter=3, shift=(-0.02, 0.1)))
    assert [b - a for a, b in zip(plain, by_hand, strict=True)] == pytest.approx([0, 0, -0.1, 0], abs=0.002)
    assert [letter.y for letter in letters("HOHO", Hand(letter=3, shift=(0.0, 0.1)))] == [0, 0, 0.1, 0]


def test_another_glyph_by_name_takes_its_own_width() -> None:
    plain, other = letters("SAS"), letters("SAS", Hand(letter=2, glyph="W"))
    wider = SANS.handle.get_glyph_h_advance(SANS.nominal_glyph("W")) - SANS.handle.get_glyph_h_advance(
        SANS.nominal_glyph("A")
    )
    assert other[1].key != plain[1].key
    assert other[0].key == plain[0].key
    assert other[2].x - plain[2].x == pytest.approx(wider / SANS.cap_height)


def test_a_feature_for_one_letter_alone() -> None:
    font = open_font("Source Serif 4")
    tags = [tag for tag in font.features() if tag in ("smcp", "onum", "sups")]
    assert tags
    text = {"smcp": "aaa", "onum": "777", "sups": "222"}[tags[0]]
    plain = shape_text(text, font).lines[0]
    one = shape_text(text, font, hands=[Hand(letter=2, feature=tags[0])]).lines[0]
    whole = shape_text(text, font, features={tags[0]: True}).lines[0]
    assert [letter.key for letter in one] == [plain[0].key, whole[1].key, plain[2].key]
    assert one[1].key != plain[1].key


def test_what_is_not_there_is_told() -> None:
    with pytest.raises(InputError, match="letter 9, but there are 2"):
        letters("HI", Hand(letter=9, shift=(0.1, 0.0)))
    with pytest.raises(InputError, match=r"no glyph called 'H\.none'"):
        letters("HI", Hand(letter=1, glyph="H.none"))
    with pytest.raises(InputError, match="no feature 'zzzz'"):
        letters("HI", Hand(letter=1, feature="zzzz"))
    notes = shape_text("HI", SANS, hands=[Hand(pair="Ta", space=0.1)]).notes
    assert [note.text for note in notes] == ["the pair “Ta”, corrected by hand, does not occur"]


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"pair": "Ta"},
        {"pair": "Tab", "space": 0.1},
        {"pair": "Ta", "letter": 1, "space": 0.1},
        {"letter": 0, "glyph": "A"},
        {"letter": 1, "space": 0.1},
        {"letter": 1, "glyph": "A", "feature": "ss01"},
        {"pair": "Ta", "space": 9.0},
        {"pair": "Ta", "space": float("nan")},
    ],
)
def test_corrections_that_mean_nothing_are_refused(values: dict[str, float]) -> None:
    with pytest.raises(InputError):
        Hand(**values)  # type: ignore[arg-type]


def test_a_size_out_of_range_is_refused() -> None:
    with pytest.raises(InputError, match="size must be from"):
        Line(text="A", size=0.0)
