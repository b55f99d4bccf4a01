"""What is written beside a cut file: its layers one by one, and the way of the blade's holder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cutpaths.commands.typed import read_distance

if TYPE_CHECKING:
    from cutpaths.commands.options import FileOptions
    from cutpaths.inputs.workshop import Workshop
    from cutpaths.sheet.plan import Plan


def film_files(plan: Plan, out: Path, files: FileOptions, shop: Workshop) -> dict[Path, bytes]:
    """What was asked for beside the file of a film."""
    found = _split_files(plan, out, shop) if files.split else {}
    return found | _blade_file(plan, out, files, shop)


def blade_name(out: Path) -> Path:
    """The file of the blade's holder beside a cut file."""
    return out.with_name(f"{out.stem}-blade{out.suffix}")


def _blade_file(plan: Plan, out: Path, files: FileOptions, shop: Workshop) -> dict[Path, bytes]:
    if files.blade_offset is None:
        return {}
    from cutpaths.write.blade import blade_svg  # noqa: PLC0415 - keeps `--help` quick

    svg = blade_svg(
        plan,
        offset_mm=read_distance("--blade-offset", files.blade_offset),
        overcut_mm=read_distance("--overcut", files.overcut),
        scale_x=shop.scale_x,
        scale_y=shop.scale_y,
    )
    return {blade_name(out): svg.encode("utf-8")}


def _split_files(plan: Plan, out: Path, shop: Workshop) -> dict[Path, bytes]:
    from cutpaths.write.split import split_plan  # noqa: PLC0415 - keeps `--help` quick

    return {
        out.with_name(f"{out.stem}-{layer}{out.suffix}"): _written(one, shop) for layer, one in split_plan(plan).items()
    }


def _written(plan: Plan, shop: Workshop) -> bytes:
    from cutpaths.write.svg import to_svg  # noqa: PLC0415 - keeps `--help` quick

    return to_svg(plan, scale_x=shop.scale_x, scale_y=shop.scale_y).encode("utf-8")
