"""The wheel in an empty environment without a network: it installs, makes the first example, and repeats an order.

    python tests/bench/bench_wheel.py

The wheel of this checkout and those of all that it needs are gathered in a wheelhouse (the only step that asks a
package index); then everything happens with the network off, where the system lets it be switched off (`unshare -n`),
and with `--no-index` in any case. An order is made here and repeated there, with another locale, hash seed and time
zone, in another folder: the files must be the same to the byte. Takes a few minutes; not part of the tests.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HOME = Path(__file__).resolve().parents[2]
ROD = ["--diameter", "12", "--diameter-end", "11.4", "--zone", "90"]
PLACE = ["--reads", "butt-to-tip", "--from", "300", "--side", "45"]
ORDER = ["--order", "Club 7"]
CLUB = """\
order = "Club 7"
[sheet]
width_mm = 120
height_mm = 70
[[label]]
text = "{name} {serial}"
names = "names.csv"
cap_height_mm = 11
proof_html = true
diameter_mm = 30
zone_mm = 90
reads = "butt-to-tip"
"""
WORDS = [
    ["orders", "Club 7", "--reserve", "2"],
    ["label", "Marshlight", *ROD, *PLACE, "--out", "a.svg", "--report", "a.json", "--proof", "a.pdf",
     "--marking-out", "m.pdf", "--picture", "rod.png", "--preview", "a.png", *ORDER],
    ["label", "Zoë", "--font", "own.ttf", "--method", "print", *ROD, "--out", "p.svg", "--shop", "s.pdf", *ORDER],
    ["practice", "Heron", "--x-height", "4", "--out", "h.svg", "--pdf", "h.pdf", *ORDER],
    ["run", "club.toml", "--out", "club"],
]  # fmt: skip


def offline(words: list[str], folder: Path, **environment: str) -> str:
    """What a command without a network says; it must end well."""
    off = ["unshare", "-n"] if _can_unshare() else []
    clean = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "PIP_"))}
    done = subprocess.run(
        [*off, *words], cwd=folder, env=clean | environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise SystemExit(f"{shlex.join(words)} ended with {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


def _can_unshare() -> bool:
    return shutil.which("unshare") is not None and not subprocess.run(["unshare", "-n", "true"], check=False).returncode


def held(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def main() -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        wheels, venv, shop, there = (folder / part for part in ("wheels", "venv", "shop", "there"))
        source = folder / "source"
        shutil.copytree(HOME, source, ignore=shutil.ignore_patterns(".git", ".venv", "build", "examples", "tests"))
        subprocess.run([sys.executable, "-m", "pip", "wheel", "-q", "-w", str(wheels), str(source)], check=True)
        print(f"{len(list(wheels.iterdir()))} wheels, network {'off' if _can_unshare() else 'not switched off'}")
        subprocess.run([sys.executable, "-m", "venv", str(venv)], check=True)
        pip = [str(venv / "bin/python"), "-m", "pip", "install", "-q", "--no-index", "--find-links", str(wheels)]
        offline([*pip, "cutpaths"], folder)
        shop.mkdir()
        there.mkdir()
        program = str(venv / "bin/cutpaths")
        said = offline([program, "--version"], there)
        first = ["label", "Marshlight No. 7", *ROD, "--out", "marshlight.svg", "--preview", "marshlight.png"]
        offline([program, *first], there)
        print(offline([program, "check", "marshlight.svg"], there).strip().splitlines()[-1], "-", said.strip())
        made = ordered(shop)
        shutil.copy(shop / "orders.sqlite", there)
        (there / "workshop.toml").write_text('register = "orders.sqlite"\n')
        for part in made:
            (shop / part).unlink()
        found = offline(
            [program, "again", "club 7", "--out", "out"], there, LC_ALL="POSIX", LANG="tr_TR.UTF-8",
            PYTHONHASHSEED="4711", TZ="Pacific/Chatham",
        )  # fmt: skip
        same = held(there / "out") == made
        print(found)
        print(f"{len(made)} files of the order: {'the same bytes' if same else 'NOT THE SAME'}")
        return 0 if same else 1


def ordered(shop: Path) -> dict[str, bytes]:
    """An order made here; its files by name."""
    (shop / "workshop.toml").write_text('register = "orders.sqlite"\n[serial]\nalphabet = "plain"\ncheck = true\n')
    (shop / "club.toml").write_text(CLUB, "utf-8")
    (shop / "names.csv").write_text("name\nTILL\nÉLI\n", "utf-8")
    shutil.copy(next((HOME / "fonts_free").rglob("*SourceSerif*.ttf"), None) or _any_font(), shop / "own.ttf")
    given = {"workshop.toml", "club.toml", "names.csv", "own.ttf", "orders.sqlite"}
    for words in WORDS:
        here = os.environ | {"PYTHONPATH": str(HOME), "PYTHONHASHSEED": "1"}
        subprocess.run(
            [sys.executable, "-m", "cutpaths", *words], cwd=shop, env=here, check=True, stdout=subprocess.DEVNULL
        )
    return {name: data for name, data in held(shop).items() if name not in given}


def _any_font() -> Path:
    return next(file for file in sorted((HOME / "fonts_free").rglob("*.ttf")) if "Condensed" in file.name)


if __name__ == "__main__":
    raise SystemExit(main())
