"""Input that is grown by what it reaches in the code: libFuzzer through atheris, which has to be installed.

    python tests/bench/bench_guided.py KIND RUNS CORPUS

KIND: svg, check, toml, csv, stations, shop or font, read as `bench_hostile.py` reads them. CORPUS: a folder, begun with
the seeds of that bench, which keeps whatever reached something new. Ten seconds and 1 GB a run; what goes wrong stops
it and lies in the working folder as crash-*, timeout-* or oom-*.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import atheris  # type: ignore[import-not-found]

sys.path.insert(0, str(Path(__file__).parent))
with atheris.instrument_imports(include=["cutpaths"]):
    import bench_hostile as hostile

    from cutpaths.errors import CutpathsError
    from cutpaths.inputs import blank_file, font, job_file, job_line, names_list, run_job, toml_table, workshop
    from cutpaths.outline import supplied, text
    from cutpaths.outline.svg import cascade, draw, path_data, style, transform
    from cutpaths.write import cuttable, readback

    LOADED: tuple[Any, ...] = (blank_file, font, job_file, job_line, names_list, run_job, toml_table, workshop)
    LOADED += (supplied, text, cascade, draw, path_data, style, transform, cuttable, readback)

# The file that each kind is read from, and the words that `bench_hostile.read_only` knows it by.
FILES = {
    "svg": ("d.svg", ["outline"]),
    "check": ("d.svg", ["check"]),
    "toml": ("job.toml", ["run", "job.toml"]),
    "csv": ("list.csv", ["run", "list.toml"]),
    "stations": ("s.csv", ["--blank"]),
    "shop": ("shop.toml", ["--workshop"]),
    "font": ("f.ttf", ["--font"]),
}


def seeds(kind: str) -> list[bytes]:
    if kind == "font":
        return [next((hostile.HOME / "fonts_free").rglob(name)).read_bytes() for name in hostile.FONTS]
    if kind in ("svg", "check"):
        bodies = (hostile.HOME / "tests/outline/svg_bodies.txt").read_text("utf-8").splitlines()
        made = [f.read_bytes() for f in (hostile.HOME / "examples").glob("*/*.svg") if f.stat().st_size < 12_000]
        head = '<svg xmlns="http://www.w3.org/2000/svg" width="200" height="200">'
        return made + [f"{head}{body}</svg>".encode() for body in bodies if body[:1] not in ("", "#")]
    given = {"toml": hostile.JOB, "csv": hostile.NAMES, "stations": hostile.STATIONS, "shop": hostile.SHOP}
    return [given[kind].encode()]


def main(kind: str, runs: int, corpus: Path) -> None:
    corpus.mkdir(parents=True, exist_ok=True)
    for number, data in enumerate(seeds(kind)):
        (corpus / f"seed-{number}").write_bytes(data)
    name, words = FILES[kind]
    here, scratch = Path.cwd(), Path(tempfile.mkdtemp())
    os.chdir(scratch)
    hostile.beside()

    def read(data: bytes) -> None:
        Path(scratch / name).write_bytes(data)
        try:
            hostile.read_only([*words, name] if name == "d.svg" else words)
        except CutpathsError:
            return

    limits = ["-timeout=10", "-rss_limit_mb=1000", f"-runs={runs}", f"-artifact_prefix={here}/", "-max_len=400000"]
    atheris.Setup([sys.argv[0], *limits, str(corpus)], read)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), Path(sys.argv[3]).resolve())
