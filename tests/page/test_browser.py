"""The page in a browser: Debian's Chromium, driven by Playwright; accessibility by axe-core.

`.ci/run` installs both and says so with CUTPATHS_BROWSER=must; elsewhere these tests are left out where they lack.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from cutpaths.cli import main
from cutpaths.inputs.bundled import bundled_fonts

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
MUST = os.environ.get("CUTPATHS_BROWSER") == "must"
AXE = os.environ.get("CUTPATHS_AXE", "")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]  # fmt: skip
WORDS = "Ines K. - Marshlight 8'6\" #4"
SOON, LONG = 20_000, 60_000  # ms; a busy machine is slow
pytestmark = pytest.mark.skipif(CHROMIUM is None and not MUST, reason="chromium is not installed here")


@dataclass
class Program:
    """The page's program as a process of its own."""

    port: int
    process: subprocess.Popen[str] | None = None
    link: str = ""

    def start(self) -> None:
        command = [sys.executable, "-m", "cutpaths", "page", "--port", str(self.port), "--no-browser"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        found = re.search(r"http://\S+", self.process.stdout.readline())
        assert found
        self.link = found[0]

    def kill(self) -> None:
        assert self.process is not None
        assert self.process.stdout is not None
        self.process.kill()
        self.process.wait()
        self.process.stdout.close()


@pytest.fixture(scope="module")
def program() -> Iterator[Program]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    found = Program(port)
    found.start()
    yield found
    found.kill()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield found
        found.close()


@pytest.fixture
def page(browser: Browser, program: Program) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1440, "height": 1000})
    found = context.new_page()
    wrong: list[str] = []
    outside: list[str] = []
    found.on("pageerror", lambda error: wrong.append(str(error)))
    found.on("request", lambda request: outside.append(request.url))
    found.goto(program.link)
    yield found
    assert wrong == []
    own = (f"http://127.0.0.1:{program.port}/", "data:", "blob:")
    assert [url for url in outside if not url.startswith(own)] == []
    context.close()


def true_picture(page: Page) -> None:
    expect(page.locator("#state")).to_contain_text("True picture", timeout=LONG)


def taken(page: Page, name: str) -> bytes:
    with page.expect_download(timeout=LONG) as waiting:
        page.get_by_role("button", name=name).click()
    path = waiting.value.path()
    return Path(path).read_bytes()


def test_a_cut_file_by_keyboard_alone(page: Page, tmp_path: Path) -> None:
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the words")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_label("Words on the rod")).to_be_focused()
    page.keyboard.press("Control+A")
    page.keyboard.type(WORDS)
    expect(page.locator("#rod svg")).to_have_attribute("aria-label", re.compile(re.escape(WORDS)), timeout=SOON)
    true_picture(page)
    button = page.get_by_role("button", name="Cut file")
    for _ in range(80):
        if page.evaluate("document.activeElement.dataset.file ?? ''") == "cut":
            break
        page.keyboard.press("Tab")
    expect(button).to_be_focused()
    with page.expect_download(timeout=LONG) as waiting:
        page.keyboard.press("Enter")
    got = Path(waiting.value.path()).read_bytes()
    assert waiting.value.suggested_filename == "ines-k-marshlight-8-6-4.svg"
    out = tmp_path / "cut.svg"
    with pytest.raises(SystemExit):
        main(["label", WORDS, "--diameter", "12.2", "--diameter-end", "11.6", "--zone", "150", "--out", str(out)])
    assert got == out.read_bytes()


def test_a_fault_stands_at_its_field_and_the_last_picture_stays(page: Page) -> None:
    expect(page.locator("#rod svg")).to_be_visible(timeout=SOON)
    box = page.get_by_label("Diameter, butt end")
    box.fill("twelve")
    expect(page.locator("#fault-diameter_mm")).to_contain_text("is not a length", timeout=SOON)
    expect(box).to_have_attribute("aria-invalid", "true")
    assert "fault-diameter_mm" in (box.get_attribute("aria-describedby") or "")
    assert "old" in (page.locator(".rod").get_attribute("class") or "")
    expect(page.locator("#rod svg .letters")).to_be_visible()
    expect(page.get_by_role("button", name="Cut file")).to_be_disabled()
    box.fill("12,4 mm")
    expect(page.locator("#fault-diameter_mm")).to_be_hidden(timeout=SOON)
    assert "old" not in (page.locator(".rod").get_attribute("class") or "")


def test_undo_reload_and_tabs_that_do_not_mix(page: Page, program: Program) -> None:
    words = page.get_by_label("Words on the rod")
    words.fill("Ann")
    words.fill("Ann Bo")
    page.get_by_label("Span").fill("60")
    page.keyboard.press("Control+Z")
    page.keyboard.press("Control+Z")
    expect(words).to_have_value("Ann")
    expect(page.get_by_label("Span")).to_have_value("90")
    page.get_by_role("button", name="Redo").click()
    expect(words).to_have_value("Ann Bo")
    other = page.context.new_page()
    other.goto(program.link)
    other.get_by_label("Words on the rod").fill("Cy")
    expect(other.locator("#rod svg")).to_have_attribute("aria-label", re.compile("^Cy on"), timeout=SOON)
    page.locator("input[name=reads][value=tip-to-butt]").check()
    page.reload()
    expect(page.get_by_label("Words on the rod")).to_have_value("Ann Bo")
    expect(page.locator("#rod svg")).to_have_attribute("aria-label", re.compile("^Ann Bo on"), timeout=SOON)
    expect(page.locator("input[name=reads][value=tip-to-butt]")).to_be_checked()
    other.close()


def test_the_program_is_killed_and_comes_back(page: Page, program: Program) -> None:
    words = page.get_by_label("Words on the rod")
    font = bundled_fonts()[1].path
    page.locator("#font-file").set_input_files(str(font))
    expect(page.locator(".faces").get_by_text("your file")).to_have_count(1, timeout=SOON)
    program.kill()
    words.fill("Still here")
    expect(page.get_by_role("alert")).to_contain_text("kept", timeout=SOON)
    program.start()
    expect(page.get_by_role("alert")).to_contain_text("Open the link", timeout=SOON)
    other = page.context.new_page()
    other.goto(program.link)
    expect(page.locator("#gone")).to_be_hidden(timeout=SOON)
    expect(page.locator("#rod svg")).to_have_attribute("aria-label", re.compile("^Still here on"), timeout=LONG)
    assert page.evaluate("document.querySelector('[name=font]:checked').value").startswith("upload-")
    other.close()


def test_the_rod_is_dragged_and_keyed(page: Page) -> None:
    expect(page.locator("#rod svg")).to_be_visible(timeout=SOON)
    box = page.locator("#rod svg .letters").bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 60, y, steps=4)
    page.mouse.up()
    dragged = float(page.get_by_label("Middle of the words").input_value())
    assert 75.0 < dragged < 150.0
    page.get_by_label("Place along the free length").focus()
    page.keyboard.press("ArrowLeft")
    assert float(page.get_by_label("Middle of the words").input_value()) == dragged - 0.5


def test_a_card_goes_out_as_a_job_file_and_comes_in_again(page: Page, tmp_path: Path) -> None:
    page.get_by_label("Words on the rod").fill('Dee "7"')
    page.get_by_label("Span").fill("80")
    file = tmp_path / "card.toml"
    file.write_bytes(taken(page, "This card TOML"))
    page.get_by_role("button", name="New card").click()
    expect(page.get_by_label("Span")).to_have_value("90")
    page.locator("#load").set_input_files(str(file))
    expect(page.get_by_label("Words on the rod")).to_have_value('Dee "7"', timeout=SOON)
    expect(page.get_by_label("Span")).to_have_value("80")


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_nothing_serious_for_axe(browser: Browser, program: Program, width: int, scheme: str) -> None:
    if not AXE and not MUST:
        pytest.skip("CUTPATHS_AXE does not name axe.min.js of the npm package axe-core")
    context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=scheme)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(program.link)
    page.locator("#faces summary").click()
    page.locator("#more summary").click()
    expect(page.locator(".faces svg")).to_have_count(len(bundled_fonts()), timeout=LONG)
    page.get_by_label("Span").fill("x")
    expect(page.locator("#fault-span_deg")).to_be_visible(timeout=SOON)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.evaluate(Path(AXE).read_text("utf-8"))
    found = page.evaluate("axe.run()")
    serious = [
        (v["id"], [n["target"] for n in v["nodes"]])
        for v in found["violations"]
        if v["impact"] in ("serious", "critical")
    ]
    assert serious == []
    assert len(found["passes"]) > 20  # it did look
    context.close()
