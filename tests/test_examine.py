"""Cut files re-measured, drawn here with strokes, gaps and faults that are known; and the bundled faces."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from program import called

from cutpaths import examine
from cutpaths.errors import InputError
from cutpaths.examine import SAMPLE_CAP_MM, Checked, check_file, drawn_file, face_strokes, method_of
from cutpaths.geometry.measure import gap_faults, largest_gap_mm, largest_stroke_mm, stroke_faults
from cutpaths.geometry.region import Region
from cutpaths.geometry.tolerance import TOLERANCE, Tolerance
from cutpaths.inputs.font import bundled_fonts, open_font
from cutpaths.inputs.tool import Method, Tool, tool
from cutpaths.notes import Note, Rule
from cutpaths.outline.text import shape_text
from cutpaths.shape.letter import letter_region

VINYL = tool(Method.VINYL, min_stroke_mm=0.6, min_gap_mm=0.5)
# Sheet of 40 x 20 mm; two bars 1.2 mm thick that stand 0.7 mm apart, and one of 0.4 mm at x 20, y 12 to 18.
BARS = "M2 2L12 2L12 3.2L2 3.2Z", "M2 3.9L12 3.9L12 5.1L2 5.1Z"
THIN = "M19.8 12L20.2 12L20.2 18L19.8 18Z"
OPEN = "M2 10L12 10"
LADDERS_TOLD = "a trial piece: its ladders go below the limits on purpose and are not held against them"


def drawing(**layers: tuple[str, ...] | str) -> bytes:
    """An SVG file of 40 x 20 mm; each layer by its id (`_` for `-`), paths by their data."""
    filled = 'fill="#000"'
    lined = 'fill="none" stroke="#000" stroke-width="0.1"'
    groups = []
    for name, paths in layers.items():
        look = filled if name.startswith("ink") else lined
        drawn = "".join(f'<path {look} d="{d}"/>' for d in ((paths,) if isinstance(paths, str) else paths))
        groups.append(f'<g id="{name.replace("_", "-")}">{drawn}</g>')
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">'
    return f"{head}{''.join(groups)}</svg>".encode()


def failing(found: Checked) -> list[Note]:
    return [note for note in found.notes if note.failing]


# --------------------------------------------------------------------------------------------------- cut files


def test_a_sound_file_is_measured_and_nothing_is_noted() -> None:
    found = check_file(drawing(cut=BARS), VINYL)
    assert (found.width_mm, found.height_mm) == (40.0, 20.0)
    assert found.stroke_mm == pytest.approx(1.2, abs=0.006)
    assert found.gap_mm == pytest.approx(0.7, abs=0.006)
    assert found.notes == ()


def test_a_thin_stroke_is_told_at_its_place_in_the_file() -> None:
    found = check_file(drawing(cut=(*BARS, THIN)), VINYL)
    assert found.stroke_mm == pytest.approx(0.4, abs=0.006)
    [note] = found.notes
    assert (note.rule, note.failing, note.limit_mm) == (Rule.STROKE, True, 0.6)
    assert note.measured_mm == pytest.approx(0.4, abs=0.004)
    assert note.at_mm is not None
    x, y = note.at_mm
    assert x == pytest.approx(20.0, abs=0.01)
    assert 12.0 < y < 18.0  # right and down from the upper left; upwards it would be 2 to 8


def test_a_file_written_for_a_machine_that_feeds_off_size_is_measured_as_it_will_be_made() -> None:
    """Written 0.8 times as wide and 0.5 times as high, so made 1.25 and 2 times as large; places stay the file's."""
    found = check_file(drawing(cut=(*BARS, THIN)), VINYL, scale_x=0.8, scale_y=0.5)
    assert found.gap_mm == pytest.approx(2 * 0.7, abs=0.006)
    assert found.stroke_mm == pytest.approx(0.4 / 0.8, abs=0.006)
    [note] = found.notes
    assert note.at_mm is not None
    assert note.at_mm[0] == pytest.approx(20.0, abs=0.01)
    assert 12.0 < note.at_mm[1] < 18.0
    assert failing(check_file(drawing(cut=THIN), VINYL, scale_x=0.6)) == []  # made 0.67 mm wide
    assert failing(check_file(drawing(cut=BARS), VINYL, scale_y=1.5)) != []  # made 0.47 mm apart


def test_broken_paths_are_told_beside_what_the_lettering_holds() -> None:
    found = check_file(drawing(cut=(BARS[0], BARS[0])), VINYL)
    assert [note.rule for note in failing(found)] == [Rule.PATHS]
    assert found.stroke_mm == pytest.approx(1.2, abs=0.006)


def test_film_between_pointed_letters_counts_for_a_mask_alone() -> None:
    notched = "M2 2L9 2L10 9L11 2L18 2L18 12L2 12Z"  # a wedge of ground of 16 degrees, and long enough for no slit
    narrow = [0.3, 0.3]
    for method, sharp in ((Method.VINYL, False), (Method.MASK, True)):
        found = check_file(drawing(cut=notched), tool(method, min_stroke_mm=narrow[0], min_gap_mm=narrow[1]))
        assert bool(failing(found)) is sharp


def test_finer_limits_are_held_to_finer_chords() -> None:
    """A circle of 4 mm. By default it is flattened more finely where either limit is fine."""
    disc = "M8 3C8 4.10457 7.10457 5 6 5C4.89543 5 4 4.10457 4 3C4 1.89543 4.89543 1 6 1C7.10457 1 8 1.89543 8 3Z"

    def stroke(stroke_mm: float, gap_mm: float, tol: Tolerance | None = None) -> float | None:
        limits = tool(Method.PRINT, min_stroke_mm=stroke_mm, min_gap_mm=gap_mm)
        return check_file(drawing(ink_1=disc), limits, tol=tol).stroke_mm

    for limits in ((0.15, 0.15), (0.15, 1.0), (1.0, 0.15)):
        assert stroke(*limits) == stroke(*limits, Tolerance.for_limits(*limits)) == pytest.approx(4.0, abs=0.006)
        assert stroke(*limits) != stroke(*limits, TOLERANCE)
    coarse = stroke(0.15, 0.15, Tolerance(chord_mm=0.2))
    assert coarse is not None
    assert coarse < 3.9


# ------------------------------------------------------------------------------------------- where lettering is


def test_ink_counts_where_nothing_is_cut() -> None:
    assert check_file(drawing(ink_1=BARS), VINYL).gap_mm == pytest.approx(0.7, abs=0.006)
    both = check_file(drawing(cut=BARS, ink_1=THIN), VINYL)
    assert both.stroke_mm == pytest.approx(1.2, abs=0.006)
    other = check_file(drawing(ink_2=BARS), VINYL)  # a second colour alone is no lettering
    assert (other.stroke_mm, other.gap_mm) == (None, None)


@pytest.mark.parametrize("cut", [(), (OPEN,)])
def test_a_file_without_lettering_is_a_fault(cut: tuple[str, ...]) -> None:
    found = check_file(drawing(cut=cut), VINYL)
    assert (found.width_mm, found.height_mm, found.stroke_mm, found.gap_mm) == (40.0, 20.0, None, None)
    last = found.notes[-1]
    assert (last.rule, last.text) == (Rule.PATHS, "no lettering: no closed path on the layers cut or ink-1")
    assert last.failing


@pytest.mark.parametrize("layer", ["weeding", "marks", "trim"])
def test_a_frame_alone_is_one_of_a_set(layer: str) -> None:
    found = check_file(drawing(**{layer: BARS[0]}), VINYL)
    assert (found.stroke_mm, found.gap_mm) == (None, None)
    assert failing(found) == []
    assert "no lettering" in found.notes[-1].text


def test_a_frame_with_a_cut_left_open_is_none() -> None:
    found = check_file(drawing(weeding=BARS[0], cut=OPEN), VINYL)
    assert found.notes[-1].failing
    assert "no lettering" in found.notes[-1].text


def test_pen_lines_have_no_stroke_of_their_own() -> None:
    found = check_file(drawing(pen=OPEN), VINYL)
    assert (found.width_mm, found.height_mm, found.stroke_mm, found.gap_mm) == (40.0, 20.0, None, None)
    assert failing(found) == []
    last = found.notes[-1]
    assert last.rule is Rule.METHOD
    assert last.text == "pen lines only: they have no stroke or gap of their own to be held against limits"
    with_broken = check_file(drawing(pen=OPEN, cut=OPEN), VINYL)
    assert len(with_broken.notes) > 1  # what is wrong with the paths is told as well
    assert with_broken.notes[-1] == last
    guided = check_file(drawing(guides=OPEN), VINYL)  # lines to write between, and nothing written
    assert "no lettering" in guided.notes[-1].text


@pytest.mark.parametrize("method", Method)
def test_the_method_is_read_off_every_kind_of_our_files(method: Method, tmp_path: Path) -> None:
    """A label's own file, one layer of it alone, sheets of runs in a colour that is called like a method."""
    asked = ["--cap-height", "12", "--method", method]
    assert called("label", "IL", *asked, "--out", "a.svg", "--split", folder=tmp_path).returncode == 0
    colour = 'colour = "print, 3 labels. Mask"'
    for copies, told in ((1, b", 1 label. Written"), (2, b", 2 labels. Written")):
        job = f'[[label]]\ntext = "IL"\ncap_height_mm = 12\nmethod = "{method}"\ncopies = {copies}\n{colour}\n'
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        assert called("run", "job.toml", "--out", f"out-{copies}", folder=tmp_path).returncode == 0
        assert told in (tmp_path / f"out-{copies}" / "sheet-1.svg").read_bytes()
    files = [*tmp_path.glob("a*.svg"), *tmp_path.glob("out-*/sheet-1.svg")]
    assert len(files) >= 4
    if method is not Method.PEN:
        assert called("trial", "--method", method, "--out", "trial.svg", folder=tmp_path).returncode == 0
        files.append(tmp_path / "trial.svg")
    assert {method_of(drawn_file(file.read_bytes())) for file in files} == {method}


def test_a_print_is_judged_by_its_own_limits_unless_told_otherwise(tmp_path: Path) -> None:
    """A serif print of 4 mm capitals holds a print's 0.15 mm and never vinyl's 0.8."""
    asked = ["--font", "Source Serif 4", "--cap-height", "4", "--method", "print"]
    assert called("label", "Rowan", *asked, "--out", "a.svg", folder=tmp_path).returncode == 0
    own = called("check", "a.svg", folder=tmp_path)
    assert own.returncode == 0, own.stdout
    assert "method  print, as the file says" in own.stdout
    assert "limit 0.15" in own.stdout
    typed = called("check", "a.svg", "--method", "vinyl", folder=tmp_path)
    assert typed.returncode == 1
    assert "method  vinyl, as typed" in typed.stdout


def test_the_method_of_others_files_is_the_usual_one_unless_the_layers_tell(tmp_path: Path) -> None:
    others = drawing(cut=BARS).replace(b"><g", b"><desc>Method mask, smallest stroke 1 mm. By hand.</desc><g", 1)
    assert method_of(drawn_file(others)) is None
    (tmp_path / "b.svg").write_bytes(others)
    told = called("check", "b.svg", folder=tmp_path).stdout
    assert "method  vinyl, as the file does not say" in told
    assert "limit 0.8" in told
    nested = drawing(cut=BARS).replace(
        b'<g id="cut">', b'<g id="cut"><desc>Method mask, smallest stroke 1 mm. Written by cutpaths 1.</desc>'
    )
    assert method_of(drawn_file(nested)) is None  # the words of a layer are not the file's
    assert method_of(drawn_file(drawing(trim=BARS[0], ink_2=THIN))) is Method.PRINT
    assert method_of(drawn_file(drawing(guides=BARS[0], pen=OPEN))) is Method.PEN


def test_ladders_of_a_trial_piece_are_not_held_against_the_limits() -> None:
    """The same thin bar beside sound ones, in a group of that name and in one of another."""
    for group, held in (("cut-trial-ladders", False), ("cut-ladders-trial", True)):
        data = drawing(cut=(*BARS, THIN)).replace(b'<g id="cut">', b'<g id="cut"><g id="cut-trial">')
        start = data.rindex(b"<path")
        data = data[:start] + f'</g><g id="{group}">'.encode() + data[start:].replace(b"</g>", b"</g></g>")
        found = check_file(data, VINYL)
        told = [note for note in found.notes if not note.failing]
        assert bool(failing(found)) is held
        assert found.stroke_mm == pytest.approx(0.4 if held else 1.2, abs=0.006)
        assert [(note.rule, note.text) for note in told] == ([] if held else [(Rule.METHOD, LADDERS_TOLD)])


# ---------------------------------------------------------------------------------------------- bundled faces


def letters_of(face: str, sample: str) -> list[Region]:
    lines = shape_text(sample, open_font(face)).lines
    return [letter_region(letter, SAMPLE_CAP_MM, TOLERANCE) for line in lines for letter in line]


def test_a_face_drawn_with_one_pen_has_that_pens_stroke(monkeypatch: pytest.MonkeyPatch) -> None:
    """Otterhythe Line is drawn with a pen of a tenth of its cap height (`fonts_free/otterhythe-line/build.py`), so that
    vinyl's 0.8 mm asks for capitals of 8 mm, or 2 % less."""
    [face] = [face for face in bundled_fonts() if (face.family, face.style) == ("Otterhythe Line", "Regular")]
    monkeypatch.setattr(examine, "bundled_fonts", lambda: (face,))
    monkeypatch.setattr(examine, "SAMPLE", "HOL")
    [found] = face_strokes()
    assert found.name == "Otterhythe Line Regular"
    assert found.usual == pytest.approx(0.1, abs=0.001)
    assert found.thinnest == pytest.approx(0.1, abs=0.003)
    assert found.least_cap_mm is not None
    assert 8.0 * 0.98 <= found.least_cap_mm <= 8.0 + 0.15


def test_thick_and_thin_and_the_size_they_ask_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Against letters cut across by a line: the stem of an I, and hairlines no wider than that; and against the ruler
    for the largest limit, which goes another way than trying sizes."""
    [face] = [face for face in bundled_fonts() if (face.family, face.style) == ("Source Serif 4", "Semibold")]
    monkeypatch.setattr(examine, "bundled_fonts", lambda: (face,))
    monkeypatch.setattr(examine, "SAMPLE", "IIe")
    [found] = face_strokes()
    areas = letters_of("Source Serif 4 Semibold", "IIe")
    x0, y0, x1, y1 = areas[0].bounds
    stem = shapely.intersection(areas[0], shapely.LineString([(x0, (y0 + y1) / 2), (x1, (y0 + y1) / 2)])).length
    assert found.usual == pytest.approx(stem / SAMPLE_CAP_MM, rel=0.1)
    x, y = (areas[2].bounds[0] + areas[2].bounds[2]) / 2, areas[2].bounds[1] + 0.6 * np.ptp(areas[2].bounds[1::2])
    bar = shapely.intersection(areas[2], shapely.LineString([(x, y - 2.5), (x, y + 2.5)])).length  # of the e
    assert found.thinnest < 1.1 * bar / SAMPLE_CAP_MM < found.usual
    strokes, gaps = min(map(largest_stroke_mm, areas)), min(map(largest_gap_mm, areas))
    vinyl = tool(Method.VINYL)
    least = SAMPLE_CAP_MM * max(vinyl.min_stroke_mm / strokes, vinyl.min_gap_mm / gaps)
    assert found.least_cap_mm == pytest.approx(least, rel=0.03)
    # And at that size each letter holds what it does not hold a tenth of a millimetre below.
    assert found.least_cap_mm is not None
    assert holds(areas, vinyl, found.least_cap_mm)
    assert not holds(areas, vinyl, found.least_cap_mm - 0.1)


def holds(areas: list[Region], limits: Tool, cap_mm: float) -> bool:
    scale = SAMPLE_CAP_MM / cap_mm
    return not any(
        (*stroke_faults(a, limits.min_stroke_mm * scale), *gap_faults(a, limits.min_gap_mm * scale)) for a in areas
    )


def test_every_bundled_face_is_listed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(examine, "SAMPLE", "I")
    done = called("fonts", folder=tmp_path)
    assert done.returncode == 0, done.stderr
    assert all(face.family in done.stdout for face in bundled_fonts())
    assert "never" in done.stdout  # a face of needle tips


@pytest.mark.parametrize("far", ["L1e308 1", "L-1e308 1", "L1e9 1", "A10 5 30 0 1 180 1e308"])
def test_a_path_beyond_any_roll(far: str) -> None:
    with pytest.raises(InputError, match="farther than 1000 m"):
        check_file(drawing(cut=f"M1 1{far}L9 9Z"), VINYL)
