"""Islands: ground enclosed by lettering, what encloses each, and the letter to which it belongs.

A stencil would lose them, a mask carries them over on tape. An island is a counter less whatever lettering lies in it;
an island in an island's lettering is one of its own (ring in ring in ring: three).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from cutpaths.geometry.region import Region, polygons_of
from cutpaths.shape.compose import Set

# An inscribed circle is found to within this share of the island's size.
CIRCLE_SHARE = 0.01


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Island:
    """One island, mm.

    part: index of the polygon of the region round it; counter: index of its ring in that polygon.
    letter: index of the letter that it belongs to, -1 where there are no letters; text: that letter.
    area: its film, less the lettering that lies in it.
    """

    part: int
    counter: int
    letter: int
    text: str
    area: Polygon

    @property
    def width_mm(self) -> float:
        """Diameter of the largest disc in it."""
        size = max(self.area.bounds[2] - self.area.bounds[0], self.area.bounds[3] - self.area.bounds[1])
        circle = shapely.maximum_inscribed_circle(self.area, tolerance=CIRCLE_SHARE * size)
        return 2 * float(shapely.length(circle))

    @property
    def at_mm(self) -> tuple[float, float]:
        """A place inside it."""
        point = self.area.representative_point()
        return round(point.x, 3), round(point.y, 3)


def islands(region: Region, letters: Sequence[Set] = ()) -> tuple[Island, ...]:
    """All islands of the lettering, letter by letter in reading order, upper before lower."""
    found = []
    for part, polygon in enumerate(region.geoms):
        for counter, ring in enumerate(polygon.interiors):
            film = shapely.difference(Polygon(ring), region)
            for area in polygons_of(film):
                if shapely.distance(area, ring) == 0.0:
                    letter = _owner(area, letters)
                    text = letters[letter].text if letter >= 0 else ""
                    found.append(Island(part=part, counter=counter, letter=letter, text=text, area=area))
    return tuple(sorted(found, key=lambda i: (i.letter, -i.area.bounds[3], i.area.bounds[0])))


def _owner(area: Polygon, letters: Sequence[Set]) -> int:
    """The letter whose own counter it is, else the one that it touches most."""
    if not letters:
        return -1
    point = area.representative_point()
    near = [k for k, letter in enumerate(letters) if shapely.intersects(letter.made.envelope, area)]
    for k in near:
        if any(Polygon(p.exterior).contains(point) for p in letters[k].made.geoms):
            return k
    return max(near, key=lambda k: (letters[k].made.intersection(area.envelope).area, -k), default=0)


def ground_pieces(region: Region) -> int:
    """Into how many pieces the ground falls: 1 where the sheet holds together."""
    return 1 + sum(len(polygon.interiors) for polygon in region.geoms)
