"""Measured blanks: stations from a file, the zone on them, what a changing taper does to a flat strip."""

from __future__ import annotations

from math import pi
from pathlib import Path

import numpy as np
import pytest

from cutpaths.errors import InputError
from cutpaths.inputs.blank import Blank, Station, bulge_mm, measured_blank, misfit_mm, taper_of
from cutpaths.inputs.blank_file import read_stations
from cutpaths.inputs.lay import Lay, Laying, Tops, heading_rad
from cutpaths.inputs.place import Reads


def test_toml_and_csv_give_the_same_stations(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text(
        "strip_mm = 0.1\n[[station]]\nat_mm = 0\ndiameter_mm = 14.0\nacross_mm = 14.2\n"
        f"[[station]]\nat_mm = 100\nround_mm = {pi * 13.1}\n"
    )
    (tmp_path / "a.csv").write_text(
        f"at_mm;diameter_mm;across_mm;round_mm;strip_mm\n0;14,0;14.2;;\n100;;;{pi * 13.1};0.1\n"
    )
    first, second = read_stations(tmp_path / "a.toml"), read_stations(tmp_path / "a.csv")
    for found in (first, second):
        assert [s.at_mm for s in found] == [0.0, 100.0]
        assert found[0].mean_mm == pytest.approx(14.1)
        assert found[0].out_of_round_mm == pytest.approx(0.2)
        assert found[1].mean_mm == pytest.approx(13.0)  # the strip's own thickness is taken off


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("at_mm,diameter_mm\n0,\n", "station 1 needs"),
        ("at_mm,diameter_mm\n0,wide\n", "station 1: diameter_mm"),
        ("at,diameter\n0,14\n", "first line"),
        ("at_mm,diameter_mm,colour\n0,14,red\n", "'colour'"),
        ("at_mm,diameter_mm\n0,14,3\n", "more values"),
        ("", "first line"),
        ("at_mm,diameter_mm\n0," + "1" * 200_000, "larger than field limit"),
    ],
)
def test_bad_files_are_named(tmp_path: Path, text: str, word: str) -> None:
    (tmp_path / "a.csv").write_text(text)
    with pytest.raises(InputError, match=word):
        read_stations(tmp_path / "a.csv")


STATIONS = tuple(Station(at_mm=x, diameter_mm=d) for x, d in ((0.0, 20.0), (50.0, 24.0), (100.0, 18.0)))


def test_a_zone_on_measured_stations() -> None:
    blank = measured_blank(STATIONS, from_mm=25.0, zone_mm=50.0)
    assert (blank.diameter_mm, blank.diameter_end_mm) == (22.0, 21.0)
    assert blank.diameter_at_mm(25.0) == 24.0
    assert blank.thin_diameter_mm(50.0) == 21.0
    assert bulge_mm(blank, 0.0, 50.0) == pytest.approx(2.5)


@pytest.mark.parametrize(("start", "zone"), [(-1.0, 20.0), (60.0, 60.0), (100.0, None)])
def test_a_zone_beyond_the_stations_is_refused(start: float, zone: float | None) -> None:
    with pytest.raises(InputError, match="measured from 0 to 100"):
        measured_blank(STATIONS, from_mm=start, zone_mm=zone)


def test_a_straight_taper_in_stations_is_a_straight_taper() -> None:
    stations = tuple(Station(at_mm=x, diameter_mm=14.0 - 0.006 * x) for x in (0.0, 30.0, 70.0, 100.0))
    blank = measured_blank(stations)
    plain = Blank(diameter_mm=14.0, diameter_end_mm=13.4, zone_mm=100.0)
    for x in np.linspace(0.0, 100.0, 23):
        assert blank.diameter_at_mm(float(x)) == pytest.approx(plain.diameter_at_mm(float(x)))
    assert misfit_mm(blank, 0.0, 100.0, half_round_mm=4.0) == pytest.approx(0.0, abs=1e-12)
    assert taper_of(blank, 0.0, 100.0) == pytest.approx(taper_of(plain, 0.0, 100.0))


def test_misfit_against_a_sphere() -> None:
    """On a sphere of radius R a parallel at distance y from a great circle is cos(y / R) times as long."""
    ball, half = 12.0, 2.0
    angles = np.linspace(-0.6, 0.6, 401)
    stations = tuple(Station(at_mm=ball * (1 + np.sin(a)), diameter_mm=2 * ball * np.cos(a)) for a in angles)
    blank = measured_blank(stations, from_mm=stations[0].at_mm)
    found = misfit_mm(blank, 0.0, blank.zone_mm or 0.0, half_round_mm=half)
    assert found == pytest.approx(ball * 1.2 * (1 - np.cos(half / ball)), rel=0.01)
    assert found > 0.15


def test_headings() -> None:
    """Helix angle atan(p / pi D): D 10, p 20 is 32.4816 degrees to the ring; p = pi D is 45 (common formula)."""
    spiral = Laying(lay=Lay.SPIRAL, pitch_mm=20.0)
    assert np.degrees(heading_rad(spiral, diameter_mm=10.0)) == pytest.approx(90 - 32.4816, abs=1e-4)
    spiral = Laying(lay=Lay.SPIRAL, pitch_mm=-10 * pi)
    assert np.degrees(heading_rad(spiral, diameter_mm=10.0)) == pytest.approx(-45.0)
    along = heading_rad(Laying(), diameter_mm=10.0, reads=Reads.TIP_TO_BUTT)
    assert along == pytest.approx(pi)
    with pytest.raises(InputError, match="--tops tip or --tops butt"):
        heading_rad(Laying(lay=Lay.AROUND), diameter_mm=10.0)
    assert heading_rad(Laying(lay=Lay.AROUND, tops=Tops.TIP), diameter_mm=10.0) == pytest.approx(-pi / 2)


@pytest.mark.parametrize(
    "wrong",
    [
        {"pitch_mm": 3.0},
        {"lay": Lay.SPIRAL},
        {"lay": Lay.SPIRAL, "pitch_mm": 20.0, "angle_deg": 10.0},
        {"lay": Lay.SPIRAL, "angle_deg": 90.0},
        {"repeat": 2},
        {"lay": Lay.AROUND, "repeat": 0},
        {"lay": Lay.AROUND, "follow_taper": True},
    ],
)
def test_contradictions_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError):
        Laying(**wrong)  # type: ignore[arg-type]
