"""Font: one face of one file at one place on its axes, opened once.

HarfBuzz and fontTools are loaded when a font is opened, never when this module is imported.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from cutpaths.errors import InputError
from cutpaths.inputs.bundled import BundledFont, bundled_fonts, close_names, default_font_name, find_bundled, squashed
from cutpaths.inputs.font_file import SUFFIXES, FontFile, font_file, read_font_file
from cutpaths.inputs.source import is_source

if TYPE_CHECKING:
    from cutpaths.geometry.contour import Contour
    from cutpaths.geometry.pen_line import PenLine
    from cutpaths.inputs.pens_table import PensTable

__all__ = ["BundledFont", "Font", "bundled_fonts", "default_font_name", "open_font"]

# Enough of an alphabet to find its tallest letter, without drawing all of an East Asian font.
ENOUGH_LETTERS = 400

KEPT_OPEN = 32  # bundled fonts and places on their axes

Places = tuple[tuple[int, float, float], ...]  # glyph, x, y

_NO_AXES: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Font:
    """One face.

    sha256: of the file as it lies on disk. data, index: plain sfnt bytes and the face in them.
    axes: place on every axis of a variable font, empty for others.
    cap_height, x_height: font units, by the drawn outlines; x_height is 0 where nothing is drawn for x.
    cap_height_from: the character that gave the cap height.
    licence, licence_url: as the font itself states them, may be empty.
    pens: the strokes of a face that was drawn with a pen, None for others.
    """

    family: str
    style: str
    sha256: str
    data: bytes = field(repr=False)
    index: int
    axes: Mapping[str, float]
    units_per_em: int
    cap_height: float
    cap_height_from: str
    x_height: float
    licence: str
    licence_url: str
    pens: PensTable | None = field(repr=False)
    _handle: Any = field(repr=False)
    _drawn: dict[int, tuple[Contour, ...]] = field(repr=False, default_factory=dict)
    _placed: dict[Places, tuple[Contour, ...]] = field(repr=False, default_factory=dict)

    @property
    def name(self) -> str:
        """Family and style."""
        return f"{self.family} {self.style}".strip()

    @property
    def handle(self) -> Any:
        """The `uharfbuzz.Font`, its scale the font unit, its axes set."""
        return self._handle

    def glyph(self, glyph: int) -> tuple[Contour, ...]:
        """Contours of a glyph in font units; drawn once."""
        from cutpaths.inputs.glyph import glyph_contours  # noqa: PLC0415 - heavy

        if glyph not in self._drawn:
            self._drawn[glyph] = glyph_contours(self._handle, glyph)
        return self._drawn[glyph]

    def placed(self, places: Places) -> tuple[Contour, ...]:
        """Contours of glyphs, each with its place in font units, together in cap heights; drawn once."""
        from cutpaths.geometry.contour import moved  # noqa: PLC0415 - heavy

        if places not in self._placed:
            s = 1.0 / self.cap_height
            self._placed[places] = tuple(
                moved(c, scale=s, shift=(x * s, y * s)) for glyph, x, y in places for c in self.glyph(glyph)
            )
        return self._placed[places]

    def pen_lines(self, glyph: int) -> tuple[PenLine, ...]:
        """The strokes of a glyph in the order of writing, font units; empty where the face has outlines alone."""
        from cutpaths.inputs.pens_table import glyph_lines  # noqa: PLC0415 - heavy

        return () if self.pens is None else glyph_lines(self.pens, glyph)

    def nominal_glyph(self, character: str) -> int | None:
        """The glyph that the font's character map gives, None where it lacks the character."""
        return self._handle.get_nominal_glyph(ord(character)) or None

    def features(self) -> tuple[str, ...]:
        """Tags of all OpenType features, sorted. Raises: InputError: a tag in the font is no text."""
        face, tags = self._handle.face, set()
        try:
            for table in ("GSUB", "GPOS"):
                for script, _ in enumerate(face.get_table_script_tags(table)):
                    tags.update(face.get_language_feature_tags(table, script))
                    for language, _ in enumerate(face.get_script_language_tags(table, script)):
                        tags.update(face.get_language_feature_tags(table, script, language))
        except UnicodeDecodeError:
            raise InputError(f"{self.name} cannot say which features it has: its list of them is damaged") from None
        return tuple(sorted(tags))


def open_font(name_or_file: str, *, axes: Mapping[str, float] = _NO_AXES) -> Font:
    """Open a bundled font by name or any font by file (`faces.ttc#1` for the second face of a collection).

    A name may be a family, a family with style, or a family with a named place of a variable font ("... SemiBold").
    Raises: InputError: no such font or file, a broken file, an axis that it does not have, a value out of range.
    """
    known = find_bundled(name_or_file)
    if known is not None:
        return _bundled(known, tuple(sorted(axes.items())))
    file, named_axes, known = _find(name_or_file)
    return _sound(file, {**named_axes, **axes}, known)


@lru_cache(maxsize=KEPT_OPEN)
def _bundled(known: BundledFont, axes: tuple[tuple[str, float], ...]) -> Font:
    """A bundled font; its files do not change while the program runs."""
    return _sound(_bundled_file(known), dict(axes), known)


def _sound(file: FontFile, axes: Mapping[str, float], known: BundledFont | None) -> Font:
    try:
        return _font(file, axes, known)
    except InputError:
        raise
    except Exception as error:  # HarfBuzz and numpy meet damaged bytes with errors of every kind
        raise InputError(f"{file.path.name} cannot be used: the font file is damaged") from error


def _find(name_or_file: str) -> tuple[FontFile, dict[str, float], BundledFont | None]:
    """The file that is meant, the axes that the name implies, and the manifest's entry if it is a bundled font."""
    path, index = Path(name_or_file), 0
    stem, mark, number = name_or_file.rpartition("#")
    if mark and number.isascii() and number.isdigit() and len(number) < 8 and not is_source(path):
        path, index = Path(stem), int(number)
    if "/" in name_or_file or "\\" in name_or_file or path.suffix.casefold() in SUFFIXES:
        return read_font_file(path, index=index), {}, None
    if (bundled := find_bundled(name_or_file)) is not None:
        return _bundled_file(bundled), {}, bundled
    if (instance := _named_instance(name_or_file)) is not None:
        return _bundled_file(instance[0]), instance[1], instance[0]
    if is_source(path):
        return read_font_file(path, index=index), {}, None
    close = close_names(name_or_file)
    hint = (
        f"; did you mean {' or '.join(close)}?"
        if close
        else "; `cutpaths fonts` lists them, and a file's path works too"
    )
    raise InputError(f"there is no bundled font {name_or_file[:60]!r}{hint}")


def packed(path: Path) -> FontFile:
    """A file that came with the program."""
    try:
        return font_file(path, path.read_bytes())
    except OSError:
        raise InputError(f"the bundled font file {path.name} cannot be read; install the program again") from None


def _bundled_file(font: BundledFont) -> FontFile:
    file = packed(font.path)
    if hashlib.sha256(file.raw).hexdigest() != font.sha256:
        raise InputError(f"the bundled font file {font.path.name} is not the one that was packed; install it again")
    return file


def _named_instance(name: str) -> tuple[BundledFont, dict[str, float]] | None:
    """A variable bundled font and the place on its axes that bears the name."""
    wanted = squashed(name)
    for font in bundled_fonts():
        if wanted.startswith(squashed(font.family)):
            face = open_handle(packed(font.path)).face
            for label, place in _instances(face):
                if wanted == squashed(f"{font.family} {label}"):
                    return font, place
    return None


def _instances(face: Any) -> list[tuple[str, dict[str, float]]]:
    """Named places of a variable face: name, axes."""
    tags = [axis.tag for axis in face.axis_infos]
    return [
        (face.get_name(instance.subfamily_name_id) or "", dict(zip(tags, instance.design_coords, strict=True)))
        for instance in face.named_instances
    ]


def open_handle(file: FontFile) -> Any:
    """The `uharfbuzz.Font` of a file. Raises: InputError: it maps no character."""
    import uharfbuzz as hb  # noqa: PLC0415 - heavy

    face = hb.Face(hb.Blob(file.data), file.index)
    if face.glyph_count == 0 or len(face.unicodes) == 0:
        raise InputError(f"{file.path.name} is damaged: it maps no character to a glyph")
    return hb.Font(face)


def _font(file: FontFile, axes: Mapping[str, float], known: BundledFont | None) -> Font:
    face = (handle := open_handle(file)).face
    place = _place(file.path.name, face, axes)
    if place:
        handle.set_variations(place)
    family = known.family if known else face.get_name(16) or face.get_name(1) or file.path.stem
    style = known.style if known else face.get_name(17) or face.get_name(2) or ""
    cap_height, cap_from = _cap_height(handle, file.path.name)
    return Font(
        family=family,
        style=_style_at(face, style, place) if axes else style,
        sha256=hashlib.sha256(file.raw).hexdigest(),
        data=file.data,
        index=file.index,
        axes=MappingProxyType(place),
        units_per_em=face.upem,
        cap_height=cap_height,
        cap_height_from=cap_from,
        x_height=max(_top(handle, "x"), 0.0),
        licence=face.get_name(13) or "",
        licence_url=face.get_name(14) or "",
        pens=_pens(face),
        _handle=handle,
    )


def _pens(face: Any) -> PensTable | None:
    from cutpaths.inputs.pens_table import TAG, read_pens_table  # noqa: PLC0415 - heavy

    return read_pens_table(bytes(face.reference_table(TAG).data))


def _place(name: str, face: Any, axes: Mapping[str, float]) -> dict[str, float]:
    """The place on every axis: as asked, else the axis's default."""
    ranges = {axis.tag: axis for axis in face.axis_infos}
    for tag, value in axes.items():
        if not ranges:
            raise InputError(f"{name} is not a variable font, so it has no axis {tag!r}")
        if tag not in ranges:
            raise InputError(f"{name} has no axis {tag!r}; it has {', '.join(map(_range, ranges.values()))}")
        if not ranges[tag].min_value <= value <= ranges[tag].max_value:
            raise InputError(f"{tag}={value:g} is outside what {name} has: {_range(ranges[tag])}")
    return {tag: float(axes.get(tag, axis.default_value)) for tag, axis in ranges.items()}


def _range(axis: Any) -> str:
    return f"{axis.tag} from {axis.min_value:g} to {axis.max_value:g}"


def _style_at(face: Any, style: str, place: Mapping[str, float]) -> str:
    """Name of the place on the axes, or the axes themselves where it has none."""
    named = next((label for label, axes in _instances(face) if axes == place), "")
    return named or " ".join([style, *(f"{tag}={value:g}" for tag, value in place.items())]).strip()


def _top(handle: Any, character: str) -> float:
    """Top of a character's outline above the base line, 0 where nothing is drawn for it."""
    from cutpaths.inputs.glyph import glyph_contours, ink_bounds  # noqa: PLC0415 - heavy

    glyph = handle.get_nominal_glyph(ord(character))
    ink = ink_bounds(glyph_contours(handle, glyph)) if glyph else None
    return ink[3] if ink else 0.0


def _cap_height(handle: Any, name: str) -> tuple[float, str]:
    """Height of the capitals in font units and the character that gave it.

    The top of H as drawn; without one, the tallest capital without an accent; in an alphabet without capitals, the
    tallest letter; among signs alone, the tallest sign. The OS/2 table is not asked: its cap height is missing in
    version 0 and 1 and wrong in many others.
    """
    if (top := _top(handle, "H")) > 0.0:
        return top, "H"
    characters = [chr(c) for c in sorted(handle.face.unicodes) if not 0xD800 <= c < 0xE000]
    whole = [c for c in characters if not unicodedata.decomposition(c)]
    capitals = [c for c in whole if unicodedata.category(c) == "Lu"]
    letters = [c for c in whole if unicodedata.category(c).startswith("L")]
    for group in (capitals, letters[:ENOUGH_LETTERS], characters[:ENOUGH_LETTERS]):
        tallest = max(((_top(handle, c), c) for c in group), key=lambda pair: pair[0], default=(0.0, ""))
        if tallest[0] > 0.0:
            return tallest
    raise InputError(f"{name} draws no outlines that can be cut; it may hold pictures only")
