"""The fonts that come with the program, as their manifest lists them."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

# In the wheel the fonts lie inside the package, in a checkout beside it.
_HERE = Path(__file__).resolve().parent.parent
_PLACES = (_HERE / "fonts_free", _HERE.parent / "fonts_free")
NAMES_KNOWN = 256  # names of faces, looked up for each label
_PLAIN_STYLES = ("regular", "book", "roman", "medium")


@dataclass(frozen=True, slots=True, kw_only=True)
class BundledFont:
    """One file of the manifest.

    kind: what sort of face it is. role: what it is for. source: where it was taken from, unmodified.
    path, licence_path: on this machine.
    """

    family: str
    style: str
    path: Path
    kind: str
    role: str
    licence: str
    licence_path: Path
    source: str
    sha256: str
    default: bool = False

    @property
    def name(self) -> str:
        """Family with style, the family alone where the style is plain."""
        return self.family if self.style.casefold() in _PLAIN_STYLES else f"{self.family} {self.style}"


def fonts_folder() -> Path:
    """Where the bundled fonts lie. Raises: RuntimeError: the installation is incomplete."""
    for place in _PLACES:
        if (place / "manifest.toml").is_file():
            return place
    raise RuntimeError("fonts_free/manifest.toml is missing: the installation is incomplete")


@cache
def bundled_fonts() -> tuple[BundledFont, ...]:
    """All bundled fonts in the manifest's order."""
    folder = fonts_folder()
    entries = tomllib.loads((folder / "manifest.toml").read_text(encoding="utf-8"))["font"]
    return tuple(
        BundledFont(
            family=e["family"], style=e["style"], path=folder / e["file"], kind=e["kind"], role=e["role"],
            licence=e["licence"], licence_path=folder / e["licence_file"], source=e["source"], sha256=e["sha256"],
            default=e.get("default", False),
        )
        for e in entries
    )  # fmt: skip


def default_font_name() -> str:
    """Name of the face that is used when none is given: the one that the manifest marks `default = true`.

    Raises: RuntimeError: the manifest marks none.
    """
    for font in bundled_fonts():
        if font.default:
            return font.name
    raise RuntimeError("fonts_free/manifest.toml marks no font as the default")


@lru_cache(maxsize=NAMES_KNOWN)
def squashed(name: str) -> str:
    """A name without what people write differently: case, spaces, hyphens."""
    return "".join(c for c in name.casefold() if c.isalnum())


def find_bundled(name: str) -> BundledFont | None:
    """The bundled font of that family and style; a family alone means its plain style, or the first listed."""
    wanted = squashed(name)
    for font in bundled_fonts():
        if wanted == squashed(f"{font.family} {font.style}"):
            return font
    family = [font for font in bundled_fonts() if wanted == squashed(font.family)]
    plain = [font for font in family if font.style.casefold() in _PLAIN_STYLES]
    return next(iter(plain or family), None)


def close_names(name: str) -> list[str]:
    """Names of bundled fonts that the maker may have meant, the likeliest first."""
    from difflib import get_close_matches  # noqa: PLC0415

    names = list(dict.fromkeys(n for font in bundled_fonts() for n in (font.family, font.name)))
    by_key = {squashed(n): n for n in names}
    wanted = squashed(name)
    close = get_close_matches(wanted, list(by_key), n=3, cutoff=0.6)
    within = [k for k in by_key if len(wanted) > 2 and (wanted in k or k in wanted)]
    return [by_key[k] for k in dict.fromkeys([*close, *within])][:3]
