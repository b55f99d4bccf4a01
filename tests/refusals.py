"""A refusal as it is printed, and the same command with one of its cures followed."""

from __future__ import annotations

import shlex

# What a cure is offered in place of.
SIZES = ("--cap-height", "--width", "--height")


def cures_in(told: str) -> list[list[str]]:
    """The options of each cure that a refusal names, as words; an empty list for one that has none."""
    lines = told.splitlines()
    if "Any one of these would do:" not in lines:
        return []
    found = [line for line in lines[lines.index("Any one of these would do:") + 1 :] if line.startswith("  ")]
    return [shlex.split("--" + line.partition(": --")[2]) if ": --" in line else [] for line in found]


def followed(command: list[str], cure: list[str]) -> list[str]:
    """The command with the cure's options in place of those that they replace; without --at where it has none."""
    given = dict(zip(cure[::2], cure[1::2], strict=True))
    unbridged = ("--bridge", "--bridge-angle") if "--method" in given else ()
    replaced = {*given, *unbridged, *(SIZES if "--cap-height" in given else ()), *(() if cure else ("--at",))}
    kept: list[str] = []
    words = iter(command)
    for word in words:
        if word in replaced:
            next(words)
        else:
            kept.append(word)
    return [*kept, *cure]
