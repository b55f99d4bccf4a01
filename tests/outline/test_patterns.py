"""Patterns and markers: areas worked out by hand; what a renderer makes of them is in `test_supplied_render`."""

from __future__ import annotations

import time

import pytest
from rendered_view import PX_PER_MM, drawing

from cutpaths.errors import InputError
from cutpaths.inputs.job import White
from cutpaths.outline.supplied import Supplied, read_outline


def read(body: str, *, white: White = White.KNOCKOUT) -> Supplied:
    return read_outline(drawing(body), white=white)


def area(body: str, *, white: White = White.KNOCKOUT) -> float:
    """px²."""
    return float(read(body, white=white).region.area * PX_PER_MM**2)


def tile(content: str, more: str = 'patternUnits="userSpaceOnUse" width="20" height="20"') -> str:
    return f'<pattern id="p" {more}>{content}</pattern>'


BOX = '<rect x="20" y="20" width="160" height="160" fill="url(#p)"/>'
DOT, BAR = '<circle cx="10" cy="10" r="5"/>', '<rect width="10" height="20"/>'


def test_each_tile_is_there_once() -> None:
    found = read(tile('<rect x="5" y="5" width="10" height="10"/>') + BOX)
    assert len(found.region.geoms) == 64
    assert found.region.area * PX_PER_MM**2 == pytest.approx(64 * 100, rel=1e-3)


@pytest.mark.parametrize("turn", ["", 'patternTransform="rotate(30)"', 'patternTransform="skewX(17) scale(.31 .77)"'])
@pytest.mark.parametrize("step", [6, 17.3])
def test_what_tiles_share_at_their_edges_holds_together(turn: str, step: float) -> None:
    """A tile that is all painted leaves no seam, whatever its size in grid steps (6 px end between two of them)."""
    units = f'patternUnits="userSpaceOnUse" width="{step}" height="{step}" {turn}'
    found = read(tile('<rect width="99" height="99"/>', units) + BOX).region
    assert len(found.geoms) == 1
    assert not found.geoms[0].interiors
    assert found.area * PX_PER_MM**2 == pytest.approx(160**2, rel=1e-4)


def test_stripes_run_on_from_tile_to_tile() -> None:
    assert len(read(tile(BAR) + BOX).region.geoms) == 8


def test_white_in_a_tile_cuts_out_what_lies_under_the_pattern() -> None:
    under = '<rect x="20" y="20" width="160" height="160"/>'
    white = tile('<circle cx="10" cy="10" r="5" fill="#fff"/>')
    dots = 64 * 3.14159265 * 25
    assert area(under + white + BOX) == pytest.approx(160**2 - dots, rel=2e-3)
    assert area(under + white + BOX, white=White.SOLID) == pytest.approx(160**2, rel=1e-3)
    ringed = tile('<circle cx="10" cy="10" r="8"/><circle cx="10" cy="10" r="5" fill="#fff"/>')
    assert area(ringed + BOX) == pytest.approx(64 * 3.14159265 * (64 - 25), rel=2e-3)


@pytest.mark.parametrize(
    ("split", "whole"),
    [
        ('<pattern id="a" patternUnits="userSpaceOnUse" width="20" height="30" patternTransform="rotate(30)">'
         + BAR + '</pattern><pattern id="p" href="#a" width="25"/>',
         'patternUnits="userSpaceOnUse" width="25" height="30" patternTransform="rotate(30)"'),
        ('<pattern id="a" x="3" y="2" patternContentUnits="userSpaceOnUse"/>'
         '<pattern id="p" href="#a" patternUnits="userSpaceOnUse" width="25" height="30">' + BAR + "</pattern>",
         'patternUnits="userSpaceOnUse" x="3" y="2" width="25" height="30"'),
    ],
    ids=["transform and content", "place"],
)  # fmt: skip
def test_what_a_pattern_lacks_comes_from_the_one_it_names(split: str, whole: str) -> None:
    """Source: SVG 2 section 14.3.1 (href), which names every attribute, patternTransform among them."""
    assert read(split + BOX).region.equals(read(tile(BAR, whole) + BOX).region)


def test_transform_in_a_style_wins_over_the_attribute_it_stands_for() -> None:
    """Source: SVG 2 section 14.3.2: patternTransform is a presentation attribute of `transform`."""
    units = 'patternUnits="userSpaceOnUse" width="20" height="20"'
    styled = tile(BAR, units + ' patternTransform="scale(3)" style="transform:rotate(25deg)"')
    assert read(styled + BOX).region.equals(read(tile(BAR, units + ' patternTransform="rotate(25)"') + BOX).region)


@pytest.mark.parametrize(
    "pattern",
    [
        tile(BAR, 'patternUnits="userSpaceOnUse" width="0" height="20"'),
        tile(BAR, 'patternUnits="userSpaceOnUse" width="20"'),
        tile(BAR, 'patternUnits="userSpaceOnUse" width="20" height="-20"'),
        tile(BAR, 'patternUnits="userSpaceOnUse" width="20" height="20" viewBox="0 0 0 5"'),
        tile(BAR, 'patternUnits="userSpaceOnUse" width="20" height="20" patternTransform="scale(1 0)"'),
        tile(""),
    ],
)
def test_a_pattern_of_no_size_paints_nothing_and_says_so(pattern: str) -> None:
    """Source: SVG 2 section 14.3.1: a size of nought disables the paint; so does an empty pattern, 14.3."""
    found = read(pattern + BOX + '<rect width="9" height="9"/>')
    assert found.region.area * PX_PER_MM**2 == pytest.approx(81, rel=1e-3)
    assert any("pattern" in note.text for note in found.notes)


def test_a_pattern_too_fine_to_be_cut_is_solid_and_says_so() -> None:
    found = read(tile('<rect width=".05" height=".1"/>', 'patternUnits="userSpaceOnUse" width=".1" height=".1"') + BOX)
    assert found.region.area * PX_PER_MM**2 == pytest.approx(160**2, rel=1e-3)
    assert any("finer than a speck" in note.text for note in found.notes)


def test_use_hands_its_pattern_on_with_its_own_box() -> None:
    """Source: SVG 2 section 13.4.2 (context-fill): the box is the copy's, not that of each shape in it."""
    pattern = tile('<rect width=".25" height=".5"/>', 'width=".5" height=".5" patternContentUnits="objectBoundingBox"')
    shapes = '<g id="g" fill="context-fill"><rect width="80" height="160"/><rect x="80" width="80" height="160"/></g>'
    found = read(f'<defs>{shapes}</defs>{pattern}<use href="#g" x="20" y="20" fill="url(#p)"/>').region
    assert [round(g.area * PX_PER_MM**2) for g in found.geoms] == [40 * 160] * 2


@pytest.mark.parametrize(("word", "share"), [("left", "0"), ("center", "5"), ("right", "10")])
def test_words_for_the_reference_point_of_a_marker(word: str, share: str) -> None:
    """Source: SVG 2 section 13.7.2; few programs read them, therefore no renderer is asked."""
    body = (
        '<marker id="m" viewBox="0 0 10 10" refX="{}" refY="{}" markerWidth="4" markerHeight="4" orient="auto">'
        '<path d="M0 0L10 5L0 10z"/></marker>'
        '<path d="M40 60L120 60L150 150" fill="none" stroke="#000" stroke-width="6" marker-end="url(#m)"/>'
    )
    upright = {"left": "top", "right": "bottom"}.get(word, word)
    assert read(body.format(word, upright)).region.equals(read(body.format(share, share)).region)


MARKER = '<marker id="{}" markerWidth="9" markerHeight="9"><path d="M0 0H9V9" marker-start="url(#{})" {}/></marker>'
HOSTILE = {
    "a million tiles": tile(DOT, 'patternUnits="userSpaceOnUse" width=".15" height=".15"') + BOX,
    "tiles of 1e300": tile(DOT, 'patternUnits="userSpaceOnUse" width="1e300" height="1e300"') + BOX,
    "tiles of many points": tile(
        "".join(f'<circle cx="{k % 20}" cy="{k // 20}" r=".3"/>' for k in range(400)),
        'patternUnits="userSpaceOnUse" width="20" height="20" patternTransform="scale(.1)"',
    ) + BOX,
    "patterns of patterns": "".join(
        f'<pattern id="p{k or ""}" patternUnits="userSpaceOnUse" width="{40 / 2**k}" height="{40 / 2**k}">'
        f'<rect width="30" height="30" fill="url(#p{k + 1})"/></pattern>'
        for k in range(40)
    ) + BOX,
    "many strokes of a pattern": tile(DOT)
    + "".join(f'<path d="M0 {k % 190}H199" stroke="url(#p)" stroke-width="9"/>' for k in range(1900)),
}  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_patterns_without_measure_are_refused_in_seconds(name: str) -> None:
    begun = time.process_time()
    with pytest.raises(InputError) as refusal:
        read(HOSTILE[name])
    assert time.process_time() - begun < 5
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    "body",
    [
        tile('<rect width="9" height="9" fill="url(#p)"/>' + DOT),
        tile('<rect width="9" height="9" fill="url(#q)"/>' + DOT)
        + '<pattern id="q" width=".5" height=".5"><rect width="2" height="3" fill="url(#p)"/></pattern>',
        '<pattern id="p" href="#q" width=".1" height=".1"/><pattern id="q" href="#p"><circle r="1"/></pattern>',
        tile(f'<path d="M1 1H9" marker-end="url(#m)" stroke="red"/>{DOT}') + MARKER.format("m", "m", 'fill="url(#p)"'),
        "".join(MARKER.format(f"m{k}", f"m{(k + 1) % 9}", "") for k in range(9))
        + '<path d="M50 50H90V150" marker-mid="url(#m0)" stroke="red"/>',
        tile(DOT) + MARKER.format("m", "m", 'fill="context-fill" stroke="context-stroke"')
        + '<path d="M50 50H90V150" marker-mid="url(#m)" fill="url(#p)" stroke="url(#p)"/>',
    ],
    ids=["itself", "each other", "for what they lack", "pattern and marker", "markers", "contexts"],
)  # fmt: skip
def test_circles_of_patterns_and_markers_end(body: str) -> None:
    begun = time.process_time()
    assert read(body + BOX + '<rect width="9" height="9"/>').region.area > 0
    assert time.process_time() - begun < 5
