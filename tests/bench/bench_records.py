"""Orders, runs and reservations killed at random moments: no number lost or doubled, no half file, a sound register.

    python tests/bench/bench_records.py [KILLS] [SEED]

Each kill is the system's own, without a word of warning, of a process that has the program loaded already, so that the
moments fall into the work and not into the start. After each one SQLite checks the register, every number that was told
must be held by the register once, and every file that can be seen must be whole and known to it. In the end every order
is made again, to the same bytes. 200 kills take some minutes; not part of the tests.
"""

# ruff: noqa: T201 - a benchmark prints

from __future__ import annotations

import hashlib
import json
import os
import random
import signal
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from cutpaths.cli import main as cutpaths_main
from cutpaths.records.register import faults_of

ORDERS = 6
WORKSHOP = 'register = "orders.sqlite"\n[serial]\nalphabet = "plain"\nlength = 3\ncheck = true\n'
CLUB = """\
[sheet]
width_mm = 120
height_mm = 70
[[label]]
text = "IL {serial}"
cap_height_mm = 11
[[label]]
text = "LI"
cap_height_mm = 11
"""


def action(chance: random.Random) -> tuple[str, list[str]]:
    """What the workshop does next: its kind, and the words of the command."""
    number = chance.randrange(ORDERS)
    order = f"order {number}"
    kind = chance.choice(["label", "label", "run", "reserve", "approve"])
    if kind == "label":
        name = f"{number}-{chance.randrange(3)}"
        files = ["--out", f"{name}.svg", "--report", f"{name}.json", "--split", "--force"]
        return kind, ["label", chance.choice(["IL", "LI", "TIL"]), "--cap-height", "11", "--order", order, *files]
    if kind == "run":
        return kind, ["run", "club.toml", "--out", f"club-{number}", "--order", order, "--resume"]
    if kind == "reserve":
        return kind, ["orders", order, "--reserve", str(chance.randint(1, 40))]
    return kind, ["orders", order, "--approve", "--serials", str(chance.randint(1, 3))]


def started(words: list[str], said: Path) -> int:
    """A process that does it, with the program loaded; its number."""
    child = os.fork()
    if child:
        return child
    out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.dup2(os.open(said.with_suffix(".err"), os.O_WRONLY | os.O_CREAT | os.O_TRUNC), 2)
    sys.stdout = os.fdopen(1, "w", buffering=1)
    code = 1
    try:
        cutpaths_main(words)
    except SystemExit as ended:
        code = int(ended.code or 0)
    finally:
        sys.stdout.flush()
        os._exit(code)


def killed(child: int, after_s: float) -> tuple[bool, int]:
    """Whether it was killed in the middle, and with what it ended otherwise."""
    until = time.monotonic() + after_s
    while time.monotonic() < until:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return False, os.waitstatus_to_exitcode(status)
        time.sleep(0.0005)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    ended = os.waitstatus_to_exitcode(status)
    return ended == -signal.SIGKILL, ended


def faults(folder: Path, told: list[str]) -> list[str]:
    """Everything that is not as it should be."""
    register = folder / "orders.sqlite"
    if not register.exists():
        return ["numbers were told, and there is no register"] if told else []
    found = list(faults_of(register)) if register.stat().st_size else []
    base = sqlite3.connect(register)
    held = [row[0] for row in base.execute("SELECT written FROM serials")] if register.stat().st_size else []
    numbers = [row[0] for row in base.execute("SELECT number FROM serials ORDER BY number")] if held else []
    known = set(base.execute("SELECT path, sha256 FROM files")) if register.stat().st_size else set()
    stand = base.execute(
        "SELECT f.path, f.sha256 FROM files f JOIN makings m ON m.id = f.making_id"
        " WHERE m.finished = 1 AND m.replaced_by IS NULL AND m.command = 'label'"
        " AND NOT EXISTS (SELECT 1 FROM makings n WHERE n.order_id = m.order_id AND n.id > m.id AND n.finished = 0)"
    ).fetchall() if register.stat().st_size else []  # fmt: skip
    base.close()
    found += [f"number {one} was told {count} times" for one, count in Counter(told).items() if count > 1]
    found += [f"number {one} was told and is lost" for one in set(told) - set(held)]
    found += ["a number is doubled"] if len(set(held)) < len(held) else []
    found += ["numbers have a gap"] if numbers != list(range(1, len(numbers) + 1)) else []
    for path, sha256 in stand:
        if not Path(path).exists() or hashlib.sha256(Path(path).read_bytes()).hexdigest() != sha256:
            found.append(f"{path} is not what the register says")
    for path in folder.rglob("*"):
        part = path.relative_to(folder).parts
        if not path.is_file() or any(p.startswith(".") for p in part) or part[0] in ("workshop.toml", "club.toml"):
            continue
        if not part[0].startswith("orders.sqlite") and not whole(path):
            found.append(f"{path} is not whole")
        record = str(path), hashlib.sha256(path.read_bytes()).hexdigest()
        if len(part) == 1 and path.suffix in (".svg", ".json") and record not in known:
            found.append(f"{path} stands without a record")
    return found


def whole(path: Path) -> bool:
    data = path.read_bytes()
    if path.suffix == ".json":
        try:
            json.loads(data)
        except ValueError:
            return False
        return data.endswith(b"}\n")
    ends = {".svg": b"</svg>\n", ".png": b"IEND\xaeB`\x82", ".html": b"</html>\n"}
    return data.endswith(ends.get(path.suffix, b""))


def main(kills: int, seed: int) -> int:
    chance = random.Random(seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name).resolve()
        os.chdir(folder)
        (folder / "workshop.toml").write_text(WORKSHOP)
        (folder / "club.toml").write_text(CLUB)
        warm(folder)
        told: list[str] = []
        took = undisturbed(folder, told)
        print(", ".join(f"{kind} takes {seconds:.2f} s" for kind, seconds in took.items()), flush=True)
        counts: Counter[str] = Counter()
        wrong: list[str] = []
        while sum(n for kind, n in counts.items() if kind.endswith(" killed")) < kills:
            kind, words = action(chance)
            began = time.monotonic()
            was_killed, ended = killed(started(words, folder / ".said"), chance.uniform(0.0, 1.2) * took[kind])
            if not was_killed and ended == 0:  # others use the machine as well
                took[kind] = 0.7 * took[kind] + 0.3 * (time.monotonic() - began)
            counts[f"{kind} {'killed' if was_killed else f'ended with {ended}'}"] += 1
            told += numbers_told(folder)
            wrong += faults(folder, told)
        print(", ".join(f"{kind}: {n}" for kind, n in sorted(counts.items())))
        print(f"{len(told)} numbers told, {len(wrong)} faults")
        wrong += mended(folder)
        for fault in wrong[:20]:
            print("!", fault)
        return 1 if wrong else 0


def numbers_told(folder: Path) -> list[str]:
    lines = (folder / ".said").read_text().splitlines(keepends=True)
    return [line.split()[1] for line in lines if line.startswith("serial ") and line.endswith("\n")]


def undisturbed(folder: Path, told: list[str]) -> dict[str, float]:
    """How long each kind of action takes that nobody kills."""
    took = {}
    for number in range(ORDERS):  # every run needs a number
        killed(started(["orders", f"order {number}", "--reserve", "1"], folder / ".said"), 300.0)
        told += numbers_told(folder)
    for kind, words in {
        "label": ["label", "IL", "--cap-height", "11", "--order", "order 0", "--out", "0-0.svg"],
        "reserve": ["orders", "order 0", "--reserve", "2"],
        "approve": ["orders", "order 0", "--approve", "--serials", "1"],
        "run": ["run", "club.toml", "--out", "club-0", "--order", "order 0", "--resume"],
    }.items():
        began = time.monotonic()
        killed(started(words, folder / ".said"), 300.0)
        took[kind] = time.monotonic() - began
        told += numbers_told(folder)
    return took


def warm(folder: Path) -> None:
    """Load what the work needs, once."""
    (folder / "warm").mkdir()
    os.chdir(folder / "warm")
    for words in (["label", "IL", "--cap-height", "11"], ["orders"]):
        try:
            cutpaths_main(words)
        except SystemExit:
            continue
    import cutpaths.records.keep  # noqa: PLC0415
    import cutpaths.records.shelf  # noqa: PLC0415
    import cutpaths.run.run  # noqa: F401, PLC0415

    os.chdir(folder)
    (folder / "warm").rmdir()


def mended(folder: Path) -> list[str]:
    """Every order made again, the unfinished ones too; what is not the same."""
    found = []
    same = 0
    base = sqlite3.connect(folder / "orders.sqlite")
    made = {row[0] for row in base.execute("SELECT name FROM orders JOIN makings ON orders.id = order_id")}
    base.close()
    for number in (n for n in range(ORDERS) if f"order {n}" in made):
        child = started(["again", f"order {number}", "--out", f"again-{number}", "--anyway"], folder / ".said")
        _, status = os.waitpid(child, 0)
        for line in (folder / ".said").read_text().splitlines():
            same += "the same bytes" in line
            if "otherwise" in line:
                found.append(f"order {number}: {line}")
        if status and "--out" not in (folder / ".said").read_text():
            found += [f"order {number}: again ended otherwise: {(folder / '.said.err').read_text()}"]
    print(f"{same} makings made again to the same bytes")
    return found


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:]]
    raise SystemExit(main(*(given + [200, 11][len(given) :])))
