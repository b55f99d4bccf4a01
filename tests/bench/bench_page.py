"""The page in Chromium: from a keystroke to the picture that shows it, and memory over many edits.

    PYTHONPATH=.:tests python tests/bench/bench_page.py [EDITS]

A picture is the pencil sketch that follows typing; the true picture, which is read back, is timed apart.
"""

from __future__ import annotations

import re
import shutil
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, expect, sync_playwright

WORDS = "Marshlight No. 7 by Ines K. 4w"  # 30 keystrokes, the 18th of them shows an 18-letter label
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
WATCH = """() => {
  window.times = [];
  const text = document.getElementById("text");
  let begun = 0, wanted = "";
  text.addEventListener("input", () => { begun = performance.now(); wanted = text.value.trim(); }, true);
  new MutationObserver(() => {
    const svg = document.querySelector("#rod svg");
    if (begun && svg && svg.getAttribute("aria-label").startsWith(`${wanted} on`)) {
      requestAnimationFrame(() => { if (begun) { window.times.push(performance.now() - begun); begun = 0; } });
    }
  }).observe(document.getElementById("rod"), { childList: true });
}"""


def keystrokes(page: Page, face: str) -> list[float]:
    """Milliseconds from each keystroke to the frame with its picture; the next key waits for it."""
    page.evaluate("face => { document.querySelector(`[name=font][value='${face}']`).click(); }", face)
    page.fill("#text", "I")
    time.sleep(3)
    page.fill("#text", "")
    page.evaluate(WATCH)
    for number, letter in enumerate(WORDS, start=1):
        page.type("#text", letter)
        end = time.monotonic() + 10
        while page.evaluate("times.length") < number and time.monotonic() < end:
            time.sleep(0.01)
    return list(page.evaluate("times"))


def true_picture_s(page: Page) -> float:
    """Seconds from the last edit to the picture of the label as it will be cut."""
    page.fill("#text", WORDS[:18])
    began = time.monotonic()
    expect(page.locator("#state")).to_contain_text(
        re.compile("True picture|cannot be made|longer than"), timeout=200_000
    )
    return time.monotonic() - began


def memory_mb(root: int) -> dict[str, float]:
    """Resident memory of the program and of each of its workers."""
    table = subprocess.run(["ps", "-eo", "pid=,ppid=,rss="], capture_output=True, text=True, check=True).stdout
    rows = [tuple(map(int, line.split())) for line in table.splitlines()]
    family = {root}
    for _ in range(4):
        family |= {pid for pid, parent, _ in rows if parent in family}
    return {str(pid): rss / 1024 for pid, _, rss in rows if pid in family}


def many_edits(page: Page, root: int, edits: int) -> list[tuple[int, float, float]]:
    """After how many edits: memory of all processes, MB, and of the page's script, MB."""
    session = page.context.new_cdp_session(page)
    found: list[tuple[int, float, float]] = []
    for edit in range(edits + 1):
        page.fill("#text", f"Rod {edit % 97} of {edit % 89}")
        if edit % 10 == 0:
            page.wait_for_timeout(250)
        if edit % max(1, edits // 5) == 0:
            session.send("HeapProfiler.collectGarbage")
            heap: Any = session.send("Runtime.getHeapUsage")
            found.append((edit, sum(memory_mb(root).values()), heap["usedSize"] / 2**20))
    return found


def main() -> None:
    edits = int(sys.argv[1]) if len(sys.argv) > 1 else 0
    command = [sys.executable, "-m", "cutpaths", "page", "--no-browser", "--port", "8497"]
    program = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert program.stdout is not None
    link = re.search(r"http\S+", program.stdout.readline())
    assert link is not None
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        page = browser.new_page()
        page.goto(link[0])
        for face in () if edits else ("Barlow Condensed SemiBold", "Pinyon Script"):
            times = sorted(keystrokes(page, face))
            tenth = times[int(len(times) * 0.9)]
            load = Path("/proc/loadavg").read_text().split()[0]
            sys.stdout.write(
                f"{face}: {len(times)} keystrokes, median {statistics.median(times):.0f} ms, nine in ten within "
                f"{tenth:.0f} ms, slowest {times[-1]:.0f} ms; load {load}\n"
            )
            sys.stdout.flush()
            sys.stdout.write(f"{face}: true picture after {true_picture_s(page):.1f} s\n")
        for edit, processes, script in many_edits(page, program.pid, edits) if edits else ():
            sys.stdout.write(f"after {edit} edits: processes {processes:.0f} MB, script {script:.1f} MB\n")
        browser.close()
    program.terminate()
    program.wait()


if __name__ == "__main__":
    main()
