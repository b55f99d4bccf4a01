"""The job card: what is typed becomes the job that a job file or the command line would give."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from cutpaths.inputs.job_file import read_run
from cutpaths.inputs.workshop import Workshop
from cutpaths.page.card import FIELDS, CardFaultError, card_job, cards_of, job_toml, refilled
from cutpaths.page.uploads import Upload, file_names, with_names

CARD = {"text": "Otterhythe No. 3", "diameter_mm": "12.2", "diameter_end_mm": "11.6", "zone_mm": "150"}


def faults(**typed: str) -> dict[str, str]:
    with pytest.raises(CardFaultError) as caught:
        card_job(CARD | typed, {}, Workshop())
    return caught.value.faults


@pytest.mark.parametrize(
    ("typed", "mm"), [("12,2", 12.2), ("12.2 mm", 12.2), ("1/2in", 12.7), ("0.5in", 12.7), ("1,22 cm", 12.2)]
)
def test_lengths_with_units_and_decimal_comma(typed: str, mm: float) -> None:
    blank = card_job(CARD | {"diameter_mm": typed}, {}, Workshop()).wish.blank
    assert blank is not None
    assert blank.diameter_mm == pytest.approx(mm, abs=1e-12)


def test_degrees_and_shares() -> None:
    job = card_job(CARD | {"span_deg": "60°", "side_deg": "−90", "letter_space": "12,5 %"}, {}, Workshop())
    assert (job.wish.span_deg, job.place.side_deg, job.wish.letter_space) == (60.0, -90.0, 0.125)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"diameter_mm": "twelve"}, "diameter_mm"),
        ({"diameter_mm": "1"}, "diameter_mm"),
        ({"zone_mm": ""}, "zone_mm"),
        ({"at_mm": "400"}, "zone_mm"),
        ({"span_deg": "720"}, "span_deg"),
        ({"span_deg": "nan"}, "span_deg"),
        ({"text": "  "}, "text"),
        ({"font": "Marshlight Grotesque"}, "font"),
        ({"font": "/etc/passwd"}, "font"),
        ({"font": "../fonts_free/x.ttf"}, "font"),
        ({"outline": "../../secret.svg"}, "outline"),
        ({"lay": "spiral"}, "lay"),
        ({"cap_height_mm": "5", "width_mm": "40"}, "cap_height_mm"),
        ({"method": "laser"}, "method"),
        ({"copies": "1.5"}, "copies"),
        ({"margin_mm": "900"}, "margin_mm"),
        ({"letter_colour": "blurple"}, "letter_colour"),
        ({"inks": "navy"}, "inks"),
        ({"inks": "Navy=#1b2a49, Cream=#f2e6c0"}, "inks"),
        ({"outline_width_mm": "11"}, "outline_width_mm"),
        ({"shadow_mm": "1", "trap_mm": "2"}, "trap_mm"),
        ({"text": "x" * 301}, "text"),
        ({"diameter_mm": "", "diameter_end_mm": "", "zone_mm": ""}, "diameter_mm"),
    ],
)
def test_what_is_wrong_stands_at_its_field_in_plain_words(typed: dict[str, str], field: str) -> None:
    found = faults(**typed)
    assert list(found) == [field]
    assert "--" not in found[field]
    assert "job card" not in found[field]
    assert "_mm" not in found[field]


def test_every_wrong_field_is_told_at_once() -> None:
    assert set(faults(diameter_mm="?", span_deg="x", zone_mm="-")) == {"diameter_mm", "span_deg", "zone_mm"}


def test_a_card_is_a_job_file_and_comes_back_from_it(tmp_path: Path) -> None:
    card = CARD | {"text": 'Ann\'s "8\'6" \\ ü', "span_deg": "75", "letter_space": "5%", "follow_taper": "true",
                   "reads": "butt-to-tip"}  # fmt: skip
    text = job_toml([card])
    assert tomllib.loads(text)["label"][0]["text"] == card["text"]
    cards, left = cards_of(text)
    assert (cards, left) == ([card], [])
    (tmp_path / "job.toml").write_text(text, "utf-8")
    entry = read_run(tmp_path / "job.toml").entries[0]
    assert entry.job == card_job(card, {}, Workshop())


def test_colours_are_typed_and_come_back(tmp_path: Path) -> None:
    typed = {"outline_width_mm": "0,5 mm", "inks": "Cream=#f2e6c0, Navy=#1b2a49", "method": "print"}
    job = card_job(CARD | typed, {}, Workshop())
    assert [ink.name for ink in job.inks.inks] == ["Cream", "Navy"]
    assert job.inks.outline_mm == 0.5
    text = job_toml([CARD | typed])
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert read_run(tmp_path / "job.toml").entries[0].job.inks == job.inks
    [again], left = cards_of(text)
    assert card_job(again, {}, Workshop()) == job
    assert left == []


def test_what_has_no_field_is_told() -> None:
    cards, left = cards_of(
        'workshop = "w.toml"\n[defaults]\nzone_mm = 90\n[[label]]\ntext = "A"\naxes = {wght = 600}\n'
    )
    assert cards == [{"text": "A", "zone_mm": "90"}]
    assert left == ["workshop", "axes"]


@pytest.mark.parametrize(
    ("option", "changed"),
    [
        ("--span 104", {"span_deg": "104"}),
        ("--cap-height 7.5", {"cap_height_mm": "7.5", "width_mm": "", "height_mm": ""}),
        ('--font "Barlow Condensed Bold"', {"font": "Barlow Condensed Bold"}),
        (
            "--method mask --min-stroke 0.6 --min-gap 0.5",
            {"method": "mask", "min_stroke_mm": "0.6", "min_gap_mm": "0.5"},
        ),
        ("--letter-space 12%", {"letter_space": "12%"}),
        ("--bridge-angle 75", {"bridge_angle_deg": "75"}),
    ],
)
def test_a_cure_is_a_change_of_the_card(option: str, changed: dict[str, str]) -> None:
    assert refilled(CARD, option) == CARD | changed


def test_a_cure_without_an_option_changes_nothing_by_itself() -> None:
    assert refilled(CARD, "") == {}


def test_braces_are_words_on_the_card_and_fields_in_a_job_file(tmp_path: Path) -> None:
    card = {"text": "No. {7}", "cap_height_mm": "8"}
    text = job_toml([card])
    assert cards_of(text)[0] == [card]
    (tmp_path / "job.toml").write_text(text, "utf-8")
    assert next(read_run(tmp_path / "job.toml").wanted()).job.text == "No. {7}"


def test_dropped_files_keep_their_names_apart() -> None:
    same = {key: Upload(name=name, data=b"") for key, name in (("a", "x.svg"), ("b", "X.svg"), ("c", "job.toml"))}
    names = file_names(same)
    assert names == {"a": "x.svg", "b": "2-X.svg", "c": "2-job.toml"}
    assert with_names({"outline": "b", "text": "b"}, names) == {"outline": "2-X.svg", "text": "b"}


def test_what_lists_take_is_not_on_the_card() -> None:
    """The card is one label's: what a job file says of a list of names has no field."""
    assert not {"names", "one_height", "columns", "serial_from"} & set(FIELDS)
