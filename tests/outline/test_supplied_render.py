"""The imported region against a reference renderer (resvg) on the same file: one rule each, 1 % of area allowed."""

from __future__ import annotations

from pathlib import Path

import pytest
from rendered_view import SVG, difference, drawing

from cutpaths.errors import InputError
from cutpaths.inputs.job import White
from cutpaths.outline.supplied import read_outline


def off(data: bytes) -> float:
    """Difference from the renderer: a coarse look first, a fine one where pixels on the edge decide."""
    found = read_outline(data, white=White.SOLID)
    coarse = difference(data, found, zoom=2)
    return coarse if coarse <= 0.01 else difference(data, found, zoom=8)


def lines(name: str) -> list[str]:
    text = (Path(__file__).parent / name).read_text(encoding="utf-8")
    return [line for line in text.splitlines() if not line.startswith("#")]


BODIES, FRAMED = lines("svg_bodies.txt"), lines("svg_frames.txt")
RECT = '<rect x="20" y="30" width="60" height="50"/>'
FRAMES = [
    'viewBox="0 0 200 100" width="200" height="200"', 'viewBox="10 -20 100 200"', 'viewBox="0 0 100 200" width="80"',
    'viewBox="0 0 100 100" width="50mm" height="3cm"', 'width="2in" height="100pt"', 'width="10em" height="12pc"',
    'viewBox="0 0 100 100" width="50%" height="100%"',
    'viewBox="0 0 50 50" width="200" height="100" preserveAspectRatio="none"',
    'viewBox="0 0 50 50" width="200" height="100" preserveAspectRatio="xMaxYMid slice"',
    'viewBox="0 0 50 50" width="100" height="200" preserveAspectRatio="xMinYMax meet"',
    'viewBox="0 0 -50 50" width="100" height="200"', "",
]  # fmt: skip


@pytest.mark.parametrize("body", BODIES)
def test_region_covers_what_the_renderer_paints(body: str) -> None:
    assert off(drawing(body)) <= 0.01


@pytest.mark.parametrize("line", FRAMED)
def test_frames_with_their_content(line: str) -> None:
    frame, body = line.split("\t")
    assert off(drawing(body, frame=frame)) <= 0.01


@pytest.mark.parametrize("frame", FRAMES)
def test_page_and_viewbox(frame: str) -> None:
    data = drawing(RECT + '<circle cx="30" cy="30" r="25"/>', frame=frame)
    assert difference(data, read_outline(data)) <= 0.01


@pytest.mark.parametrize("body", ['<rect width="0" height="9"/>', '<circle r="-1"/>', '<path d="M5 5"/>'])
def test_what_paints_nothing_is_refused(body: str) -> None:
    with pytest.raises(InputError, match="paints nothing"):
        read_outline(drawing(body))


def test_entities_of_the_file_itself_are_expanded() -> None:
    head = "<!DOCTYPE svg [<!ENTITY side '70'><!ENTITY box '<rect width=\"30\" height=\"40\"/>'>]>"
    data = (
        f'{head}<svg {SVG} width="99" height="99">&box;<rect x="20" y="50" width="&side;" height="20"/></svg>'.encode()
    )
    assert difference(data, read_outline(data)) <= 0.01


def test_the_ruler_can_fail() -> None:
    data, other = (drawing(f'<rect width="{w}" height="100"/>') for w in (100, 102))
    assert difference(data, read_outline(other)) > 0.01
