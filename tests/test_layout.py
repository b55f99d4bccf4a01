"""The rooms of the house: which may import which, and how large a file may be."""

from __future__ import annotations

import ast
from pathlib import Path

import cutpaths

HOME = Path(cutpaths.__file__).parent
# Folders in the order in which data flows; each may import from itself and from those before it.
ORDER = [
    "errors",
    "notes",
    "geometry",
    "inputs",
    "outline",
    "shape",
    "sheet",
    "paper",
    "write",
    "examine",
    "letters",
    "reread",
    "films",
    "pipeline",
    "printed",
    "api",
    "practised",
    "run",
    "records",
    "page",
    "commands",
    "cli",
]


def room(path: Path) -> str:
    return path.relative_to(HOME).parts[0].removesuffix(".py")


def imported_rooms(path: Path) -> set[str]:
    rooms = set()
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            names = [node.module or ""]
        rooms |= {name.split(".")[1] for name in names if name.startswith("cutpaths.")}
    return rooms


def test_imports_go_one_way() -> None:
    wrong = [
        f"{path.relative_to(HOME)} imports {other}"
        for path in sorted(HOME.rglob("*.py"))
        if room(path) in ORDER
        for other in imported_rooms(path)
        if other in ORDER and ORDER.index(other) > ORDER.index(room(path))
    ]
    # errors carry notes, which stand after them in the listing
    assert [w for w in wrong if w != "errors.py imports notes"] == []


def test_the_rule_can_fail(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text("from cutpaths.write.svg import to_svg\n")
    assert imported_rooms(tmp_path / "a.py") == {"write"}
