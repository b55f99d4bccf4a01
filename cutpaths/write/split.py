"""One plan per layer, all at the same coordinates, for importers that ignore layers."""

from __future__ import annotations

from dataclasses import replace

from cutpaths.sheet.plan import Plan


def split_plan(plan: Plan) -> dict[str, Plan]:
    """The plan's layers as plans of their own, by layer id, in the order in which the plan first names them.

    Each keeps the whole sheet's size, so that the files lie on each other; the description says which layer it is.
    A layer without contours is left out.
    """
    layers = dict.fromkeys(group.layer for group in plan.groups if group.contours)
    return {
        str(layer): replace(
            plan,
            groups=tuple(group for group in plan.groups if group.layer == layer),
            description=f"{plan.description} Only the layer {layer} of this sheet.".strip(),
        )
        for layer in layers
    }
