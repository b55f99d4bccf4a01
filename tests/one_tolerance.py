"""The house rule of one tolerance, watched: what a module is given it hands on to everything that takes one."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from types import ModuleType
from typing import Any

import pytest

from cutpaths.geometry.tolerance import Tolerance


def watch(module: ModuleType, tol: Tolerance, patch: pytest.MonkeyPatch) -> list[str]:
    """From now on a call out of the module without `tol` as its tolerance fails; the names called are collected."""
    called: list[str] = []

    def watched(name: str, function: Callable[..., Any], shape: inspect.Signature) -> Callable[..., Any]:
        @wraps(function)
        def instead(*given: Any, **named: Any) -> Any:
            bound = shape.bind(*given, **named)
            bound.apply_defaults()
            assert bound.arguments["tol"] is tol, f"{name} was given another tolerance"
            called.append(name)
            return function(*given, **named)

        return instead

    for name, thing in list(vars(module).items()):
        if inspect.isfunction(thing) or hasattr(thing, "__wrapped__"):
            shape = inspect.signature(thing)
            if "tol" in shape.parameters:
                patch.setattr(module, name, watched(name, thing, shape))
    return called
