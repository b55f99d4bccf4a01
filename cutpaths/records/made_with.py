"""With what a making was made: the program and the libraries that its files rest on."""

from __future__ import annotations

import re
from importlib.metadata import PackageNotFoundError, requires, version

from cutpaths import __version__
from cutpaths.run.store import code_digest
from cutpaths.write.report import versions

# Two states of the program under one version differ in this.
TEXT = "program text"


def made_with() -> dict[str, str]:
    """Names and versions, the program first; then what it is built on, in the order of the alphabet."""
    found = versions() | {"cutpaths": __version__, TEXT: code_digest()[:16]}
    for name in sorted(_libraries()):
        try:
            found[name] = version(name)
        except PackageNotFoundError:  # run from a checkout without it; what needs it says so
            continue
    return found


def _libraries() -> set[str]:
    """The libraries that the program asks for, without those of its tests."""
    try:
        wanted = requires("cutpaths") or []
    except PackageNotFoundError:
        return set()
    return {re.split(r"[\s\[<>=!~;]", one, maxsplit=1)[0] for one in wanted if "extra ==" not in one}
