"""Whether the tests would notice: every small change of a module that mutmut would make, and the tests that fail by it.

    pip install "mutmut>=3.8,<4"
    python tests/bench/bench_mutation.py MODULE [COUNT SEED] [--only FILE] [--quick SECONDS]

MODULE: one of MODULES. COUNT SEED: so many changes, drawn at random; without them all. --only: the changes that stand
in FILE, a list of survivors as this prints it. --quick: without the tests that take longer than that, which can only
miss more. The changes are made by mutmut's own operators, everywhere but in type
annotations, decorators and texts of three quotes; its runner is not used, since what it forks has been run before, so
that remembered results (lru_cache) hide changes. Here each change is a child of a process that has numpy and the like
loaded but nothing of the program: the child imports the changed module as it would the true one and runs the tests
named in MODULES, quickest first, up to the first that fails. Hypothesis draws the same examples every time and keeps
none. A child over its time or memory counts as noticed. `mutation.md` tells what came of it.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import argparse
import ast
import importlib
import importlib.abc
import importlib.machinery
import json
import os
import random
import resource
import sys
import tempfile
import time
from collections.abc import Generator, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from types import ModuleType

import libcst as cst
import pytest
from libcst.metadata import CodeRange, MetadataWrapper, WhitespaceInclusivePositionProvider
from mutmut.mutation.mutators import mutation_operators

HOME = Path(__file__).resolve().parents[2]
# Each module with the tests that are meant to hold it.
MODULES = {
    "geometry.unroll": ("geometry/test_unroll.py", "geometry/test_course.py"),
    "sheet.order": ("sheet/test_order.py", "sheet/test_order_groups.py"),
    "geometry.measure": (
        "geometry/test_measure.py",
        "geometry/test_limits.py",
        "geometry/test_parts.py",
        "geometry/test_reach.py",
    ),
    "examine": ("test_examine.py",),
    "shape.bridge": ("shape/test_bridge.py", "shape/test_bridge_told.py"),
    "shape.thicken": (
        "shape/test_thicken.py",
        "shape/test_thicken_bars.py",
        "shape/test_walls.py",
        "shape/test_fillet.py",
    ),
}
# Loaded once, before all children; none of them imports the program.
LOADED = (
    "numpy", "scipy.sparse.csgraph", "scipy.spatial", "scipy.ndimage", "shapely", "shapely.affinity", "skimage.measure",
    "fontTools.ttLib", "fontTools.varLib.instancer", "uharfbuzz", "pyvoronoi", "lxml.etree", "typer.testing",
    "hypothesis.strategies",
)  # fmt: skip
# What a child may take: so many times what the tests take as things stand, and some seconds more; bytes.
MOST_TIMES, MORE_S, MOST_BYTES = 4, 5, 8_000_000_000
# What pytest would spend a second on before each run.
PLUGINS_LEFT_OUT = ("cacheprovider", "unraisableexception", "threadexception")
SKIPPED = (cst.Annotation, cst.Decorator, cst.Import, cst.ImportFrom)


class Changes(cst.CSTVisitor):
    """All changes of a module: where in its text, line and column from and to, and what stands there instead."""

    METADATA_DEPENDENCIES = (WhitespaceInclusivePositionProvider,)

    def __init__(self, module: cst.Module) -> None:
        self.module, self.found = module, list[tuple[CodeRange, str]]()

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, SKIPPED):
            return False
        for kind, operator in mutation_operators:
            if isinstance(node, kind):
                where = self.get_metadata(WhitespaceInclusivePositionProvider, node)
                self.found += [(where, self.module.code_for_node(other)) for other in operator(node)]
        return True


def mutants(source: str) -> Iterator[tuple[str, str]]:
    """Name and source of every change that compiles and is neither the module itself nor another change over again."""
    wrapper = MetadataWrapper(cst.parse_module(source), unsafe_skip_copy=True)
    changes = Changes(wrapper.module)
    wrapper.visit(changes)
    lines = source.splitlines(keepends=True)
    seen = {ast.dump(ast.parse(source))}
    for where, other in changes.found:
        first, last = where.start.line - 1, where.end.line
        old = lines[first:last]
        new = old[0][: where.start.column] + other + old[-1][where.end.column :]
        changed = "".join([*lines[:first], new, *lines[last:]])
        try:
            tree = ast.dump(ast.parse(changed))
        except SyntaxError:
            continue
        if tree not in seen:
            seen.add(tree)
            yield f"{first + 1}: {told(old)}  ->  {told([new])}", changed


def told(lines: Sequence[str]) -> str:
    return " ".join("".join(lines).split())


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one module from a text."""

    def __init__(self, name: str, path: Path, source: str) -> None:
        self.name, self.path, self.source = name, path, source

    def find_spec(self, fullname: str, path: object, target: object = None) -> importlib.machinery.ModuleSpec | None:
        if fullname != self.name:
            return None
        return importlib.machinery.ModuleSpec(fullname, self, origin=str(self.path))

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.source, str(self.path), "exec"), module.__dict__)


class Times:
    """Tests in the order of the times they took before, without those that took longer than `most_s`."""

    def __init__(self, known: dict[str, float], most_s: float) -> None:
        self.known, self.most_s, self.taken = known, most_s, dict[str, float]()

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if self.known.get(item.nodeid, 0.0) <= self.most_s]
        items.sort(key=lambda item: self.known.get(item.nodeid, 0.0))

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        begun = time.process_time()
        result = yield
        self.taken[item.nodeid] = time.process_time() - begun
        return result


def child(finder: Changed, tests: Sequence[str], times: Times) -> int:
    """In a process of its own: the exit code of pytest."""
    from hypothesis import Phase, settings  # noqa: PLC0415 - loaded before

    settings.register_profile("mutants", database=None, derandomize=True, phases=(Phase.explicit, Phase.generate))
    settings.load_profile("mutants")
    sys.meta_path.insert(0, finder)
    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    lean = ["-x", "--assert=plain", "--tb=no", *(f"-pno:{plugin}" for plugin in PLUGINS_LEFT_OUT)]
    return int(pytest.main([*lean, *(str(HOME / "tests" / test) for test in tests)], plugins=[times]))


def passes(finder: Changed, tests: Sequence[str], times: Times, *, most_s: int) -> bool:
    """Whether all tests pass with that module, within the time; `times` learns what each of them took."""
    with tempfile.NamedTemporaryFile(suffix=".json") as kept:
        pid = os.fork()
        if pid == 0:
            code = 99
            with suppress(BaseException):
                resource.setrlimit(resource.RLIMIT_CPU, (most_s, most_s))
                resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
                code = child(finder, tests, times)
                Path(kept.name).write_text(json.dumps(times.taken))
            os._exit(code)
        _, status = os.waitpid(pid, 0)
        if status == 0:
            times.taken = json.loads(Path(kept.name).read_text())
        return status == 0


def spent_s() -> float:
    """Processor time of all children so far."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("module", choices=sorted(MODULES))
    parser.add_argument("count", nargs="?", type=int)
    parser.add_argument("seed", nargs="?", type=int, default=0)
    parser.add_argument("--only", type=Path)
    parser.add_argument("--quick", type=float, default=float("inf"))
    asked = parser.parse_args()
    named = asked.only and {line.split(": ", 1)[-1] for line in asked.only.read_text().splitlines()}
    os.chdir(HOME)
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    sys.path.insert(0, str(HOME))
    for name in LOADED:
        importlib.import_module(name)
    assert not any(name.split(".")[0] == "cutpaths" for name in sys.modules)
    path, tests = HOME / "cutpaths" / (asked.module.replace(".", "/") + ".py"), MODULES[asked.module]
    source, name = path.read_text(), f"cutpaths.{asked.module}"
    times = Times({}, asked.quick)
    if not passes(Changed(name, path, source), tests, times, most_s=600):
        print("the tests fail as things stand")
        return 2
    times = Times(times.taken, asked.quick)
    usual_s = sum(s for s in times.known.values() if s <= asked.quick)
    chosen = list(mutants(source))
    of = len(chosen)
    if named:
        chosen = [m for m in chosen if m[0].split(": ", 1)[1] in named]
    if asked.count:
        chosen = random.Random(asked.seed).sample(chosen, min(asked.count, of))
    print(f"{name}: {len(chosen)} of {of} changes; the tests take {usual_s:.1f} s", flush=True)
    survivors = 0
    for k, (text, changed) in enumerate(chosen):
        print(f"\r{k} {survivors} ", end="", file=sys.stderr, flush=True)
        if passes(Changed(name, path, changed), tests, times, most_s=int(MOST_TIMES * usual_s + MORE_S)):
            survivors += 1
            print(text, flush=True)
    noticed = len(chosen) - survivors
    print(f"{name}: {noticed} of {len(chosen)} noticed, {100 * noticed / max(len(chosen), 1):.1f} %, {spent_s():.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
