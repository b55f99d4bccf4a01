"""The server: who may speak to it, what it takes, and that its files are the command line's own."""

from __future__ import annotations

import asyncio
import io
import json
import socket
import time
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from cutpaths.cli import main
from cutpaths.inputs.bundled import bundled_fonts, default_font_name
from cutpaths.inputs.workshop import Workshop
from cutpaths.page.gate import MOST_BODY
from cutpaths.page.lanes import SECONDS
from cutpaths.page.server import MOST_UPLOAD, app_for, listening

HOST = "127.0.0.1:8426"
TOKEN = "a-token-of-a-test"
CARD = {
    "text": "Ines 4", "diameter_mm": "12.2", "diameter_end_mm": "11.6", "zone_mm": "120", "reads": "butt-to-tip",
    "side_deg": "90",
}  # fmt: skip
TYPED = ["Ines 4", "--diameter", "12.2", "--diameter-end", "11.6", "--zone", "120", "--reads", "butt-to-tip", "--side",
         "90"]  # fmt: skip


def client() -> TestClient:
    app = app_for(token=TOKEN, hosts=(HOST, "localhost:8426"), workshop=Workshop())
    return TestClient(app, base_url=f"http://{HOST}", headers={"origin": f"http://{HOST}"})


@pytest.fixture(scope="module")
def page() -> Iterator[TestClient]:
    with client() as found:
        found.get(f"/?token={TOKEN}")
        yield found


@pytest.fixture
def outside() -> TestClient:
    """No token; workers are not begun, since nothing gets as far as them."""
    return client()


def ask(page: TestClient, task: str, **said: Any) -> Any:
    return page.post(f"/ask/{task}", json={"tab": "t", **said})


def run(*arguments: str) -> None:
    with pytest.raises(SystemExit) as ended:
        main(list(arguments))
    assert ended.value.code == 0


def test_without_the_token_nothing_is_said(outside: TestClient) -> None:
    for path in ("/", "/page.js", "/alive", f"/?token={TOKEN}x", "/?token="):
        assert outside.get(path).status_code == 403
    assert ask(outside, "sketch", card=CARD).status_code == 403
    outside.cookies.set("cutpaths", "guess")
    assert outside.get("/").status_code == 403


def test_the_link_gives_the_token_once_and_hides_it(outside: TestClient) -> None:
    answer = outside.get(f"/?token={TOKEN}", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    mark = answer.headers["set-cookie"]
    assert "HttpOnly" in mark
    assert "SameSite=Strict" in mark
    assert TOKEN not in outside.get("/").text


@pytest.mark.parametrize("host", ["rods.example", "127.0.0.1", "127.0.0.1:80", "localhost.rods.example:8426", ""])
def test_a_name_that_was_pointed_here_is_refused(page: TestClient, host: str) -> None:
    assert page.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["http://rods.example", "null", "https://127.0.0.1:8426", "http://127.0.0.1:80", ""])
def test_another_page_is_refused(page: TestClient, origin: str) -> None:
    answer = page.post("/ask/sketch", json={"card": CARD}, headers={"origin": origin})
    assert answer.status_code == 403
    assert "access-control-allow-origin" not in answer.headers


def test_a_form_of_another_page_is_refused(page: TestClient) -> None:
    plain = {"content-type": "text/plain"}
    assert page.post("/ask/sketch", content=json.dumps({"card": CARD}), headers=plain).status_code == 400
    cross = {"sec-fetch-site": "cross-site"}
    assert page.post("/ask/sketch", json={"card": CARD}, headers=cross).status_code == 403


def test_every_answer_carries_the_policy(page: TestClient, outside: TestClient) -> None:
    for answer in (page.get("/"), page.get("/nothing"), outside.get("/"), page.get("/page.css")):
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"


def test_the_page_names_nothing_outside(page: TestClient) -> None:
    for path in ("/", "/page.js", "/page.css"):
        text = page.get(path).text.replace("http://www.w3.org/2000/svg", "")
        assert "http:" not in text
        assert "https:" not in text
        assert " style=" not in text
        assert " onclick=" not in text


@pytest.mark.parametrize(
    "path",
    ["/../pyproject.toml", "/..%2f..%2fetc/passwd", "/page.js/../server.py", "/server.py", "/%2e%2e/card.py",
     "/static/../../x", "//etc/passwd", "/page.css%00.py"],
)  # fmt: skip
def test_no_path_reaches_the_disk(page: TestClient, path: str) -> None:
    assert page.get(path).status_code == 404


def test_no_name_in_a_card_reaches_the_disk(page: TestClient, tmp_path: Path) -> None:
    font = tmp_path / "own.ttf"
    font.write_bytes(bundled_fonts()[0].path.read_bytes())
    for name in (str(font), f"{font}#0", "upload-" + "0" * 63, f"../../../..{font}"):
        assert "font" in ask(page, "sketch", card=CARD | {"font": name}).json()["faults"]
    for name in ("/etc/hostname", "../x.svg"):
        assert "outline" in ask(page, "sketch", card=CARD | {"outline": name}).json()["faults"]
    answer = page.post("/upload/font", content=font.read_bytes(), headers={"x-name": "..%2F..%2Fevil%00.ttf"})
    assert "/" not in answer.json()["name"]
    assert "\0" not in answer.json()["name"]
    assert not answer.json()["name"].startswith(".")


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b'{"card": 3}', b'{"card": {"text": 3}}', b"\xff\xfe", b"[" * 10000]
)
def test_a_request_that_is_none_is_refused(page: TestClient, body: bytes) -> None:
    answer = page.post("/ask/sketch", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 400


def test_unknown_tasks_and_files_are_refused(page: TestClient) -> None:
    assert ask(page, "upload", card=CARD).status_code == 400
    assert ask(page, "exec", card=CARD).status_code == 400
    assert ask(page, "file", card=CARD, kind="passwd").status_code == 400
    assert page.post("/upload/exe", content=b"x").status_code == 400


def test_what_is_too_large_is_refused(page: TestClient) -> None:
    assert page.post("/upload/font", content=b"x" * (MOST_BODY + 1)).status_code == 413
    assert page.post("/upload/outline", content=b"x" * (MOST_UPLOAD["outline"] + 1)).status_code == 413

    def drip() -> Iterator[bytes]:  # no length is said
        for _ in range(MOST_BODY // 2**20 + 2):
            yield b"x" * 2**20

    assert page.post("/upload/font", content=drip()).status_code == 413


BOMB = b"""<!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">
<!ENTITY c "&b;&b;&b;&b;&b;&b;">]>
<svg xmlns="http://www.w3.org/2000/svg"><text>&c;&c;&c;</text></svg>"""
OUTSIDE = b"""<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><title>&x;</title><path d="M0 0h9v9z"/></svg>"""


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("font", b""), ("font", b"no font"), ("font", b"wOF2" + b"\xff" * 200),
        ("font", bundled_fonts()[0].path.read_bytes()[:9000]),
        ("outline", b""), ("outline", b"<svg"), ("outline", BOMB), ("outline", b"\x89PNG\r\n"), ("outline", OUTSIDE),
        ("job", b"\xff"), ("job", b"x = "), ("job", b"a = 1"), ("job", b"label = 3"), ("job", b"label = [3]"),
    ],
)  # fmt: skip
def test_a_broken_upload_is_refused_in_words(page: TestClient, kind: str, data: bytes) -> None:
    answer = page.post(f"/upload/{kind}", content=data).json()
    assert "key" not in answer
    assert "cards" not in answer
    words = [*answer["faults"].values(), *([answer["refused"]] if "refused" in answer else [])]
    assert words
    assert not any("Traceback" in word or "went wrong" in word or "/tmp" in word for word in words)


def test_a_sketch_comes_with_the_rod(page: TestClient) -> None:
    answer = ask(page, "sketch", card=CARD).json()
    assert answer["sketch"]
    assert answer["rod"].startswith("<svg")
    assert "60 mm from the butt end" in answer["rod"]
    assert ask(page, "sketch", card=CARD | {"zone_mm": ""}).json()["faults"].keys() == {"zone_mm"}


@pytest.mark.parametrize(
    "odd",
    [
        {"text": "."}, {"text": "-"}, {"text": "Å|é"}, {"text": "Bo", "method": "pen", "pen": "filled"},
        {"text": "Bo", "lay": "around", "tops": "tip", "repeat": "2"},
        {"text": "Bo", "lay": "spiral", "pitch_mm": "60"},
        {"text": "Bo", "follow_taper": "true"}, {"text": "Bo", "clear_mm": "5", "from_mm": "300"},
    ],
)  # fmt: skip
def test_odd_cards_are_drawn(page: TestClient, odd: dict[str, str]) -> None:
    answer = ask(page, "sketch", card=CARD | odd, narrow=True).json()
    assert answer["rod"].startswith("<svg")
    assert answer["disc"].startswith("<svg")


def test_a_size_that_does_not_fit_comes_with_what_would_do(page: TestClient) -> None:
    card = CARD | {"text": "I", "cap_height_mm": "12"}
    answer = ask(page, "make", card=card).json()
    assert "degrees round" in answer["refused"]
    changed = [cure["card"] for cure in answer["cures"]]
    assert any(other.get("span_deg") for other in changed)
    assert ask(page, "make", card=changed[0]).json()["makeable"]


def test_words_cannot_become_markup(page: TestClient) -> None:
    answer = ask(page, "sketch", card=CARD | {"text": 'A"><script>x</script>'}).json()
    assert "<script" not in answer["rod"]


def test_the_files_are_the_command_lines_own(page: TestClient, tmp_path: Path) -> None:
    names = {"cut": "cut.svg", "report": "r.json", "marking-out": "m.pdf", "proof": "p.pdf", "picture": "k.svg",
             "map": "map.svg"}  # fmt: skip
    places = {kind: str(tmp_path / name) for kind, name in names.items()}
    options = {"cut": "--out", "report": "--report", "marking-out": "--marking-out", "proof": "--proof",
               "picture": "--picture", "map": "--map"}  # fmt: skip
    run("label", *TYPED, *(word for kind in names for word in (options[kind], places[kind])))
    assert "files" not in ask(page, "make", card=CARD).json()
    for kind, place in places.items():
        answer = ask(page, "file", card=CARD, kind=kind)
        assert answer.headers["content-disposition"].startswith('attachment; filename="ines-4'), kind
        assert answer.content == Path(place).read_bytes(), kind


def test_the_practice_sheet_is_the_command_lines_own(page: TestClient, tmp_path: Path) -> None:
    typed = [*TYPED, "--font", default_font_name(), "--pdf", str(tmp_path / "p.pdf")]
    run("practice", *typed)
    answer = ask(page, "file", card=CARD | {"method": "pen"}, kind="practice")
    assert answer.headers["content-disposition"].endswith('-practice.pdf"')
    assert answer.content == (tmp_path / "p.pdf").read_bytes()
    assert "pen" in str(ask(page, "file", card=CARD, kind="practice").json()["faults"])


def test_each_colour_is_shown_and_can_be_taken(page: TestClient, tmp_path: Path) -> None:
    card = CARD | {"text": "I", "cap_height_mm": "7", "outline_width_mm": "0.9"}
    assert 'class="lower"' in ask(page, "make", card=card).json()["rod"]
    assert 'class="lower"' not in ask(page, "make", card=CARD | {"text": "I", "cap_height_mm": "7"}).json()["rod"]
    run(
        "label",
        *TYPED[1:],
        "I",
        "--cap-height",
        "7",
        "--outline-width",
        "0.9",
        "--out",
        str(tmp_path / "i.svg"),
        "--report",
        str(tmp_path / "i.json"),
    )
    assert ask(page, "file", card=card, kind="report").content == (tmp_path / "i.json").read_bytes()
    taken = ask(page, "file", card=card, kind="colours")
    with zipfile.ZipFile(io.BytesIO(taken.content)) as archive:
        assert sorted(archive.namelist()) == ["letters.svg", "outline.svg"]
        assert archive.read("outline.svg") == (tmp_path / "i-outline.svg").read_bytes()


def test_a_file_is_the_same_whether_the_label_was_seen_before_or_not(page: TestClient) -> None:
    card = {"text": "Bo", "cap_height_mm": "8"}
    first = ask(page, "file", card=card, kind="cut").content
    assert ask(page, "make", card=card).json()["makeable"]
    assert ask(page, "file", card=card, kind="cut").content == first
    other = ask(page, "file", card=card | {"cap_height_mm": "9"}, kind="cut").content
    assert other != first


def test_a_dropped_font_and_a_drawing_give_the_same_file(page: TestClient, tmp_path: Path) -> None:
    font = bundled_fonts()[1].path
    kept = page.post("/upload/font", content=font.read_bytes(), headers={"x-name": font.name}).json()
    run("label", "Ann", "--font", str(font), "--cap-height", "8", "--out", str(tmp_path / "font.svg"))
    card = {"text": "Ann", "font": kept["key"], "cap_height_mm": "8"}
    assert ask(page, "file", card=card, kind="cut").content == (tmp_path / "font.svg").read_bytes()
    drawing = tmp_path / "otter.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="9mm" viewBox="0 0 20 9">'
        '<path d="M1 1h18v7h-18zM4 3v3h12v-3z"/></svg>'
    )
    kept = page.post("/upload/outline", content=drawing.read_bytes(), headers={"x-name": "otter.svg"}).json()
    run("label", "--outline", str(drawing), "--height", "9", "--out", str(tmp_path / "drawn.svg"))
    card = {"outline": kept["key"], "height_mm": "9"}
    assert ask(page, "file", card=card, kind="cut").content == (tmp_path / "drawn.svg").read_bytes()


def test_an_upload_that_is_gone_is_asked_for(page: TestClient) -> None:
    gone = f"upload-{'0' * 64}"
    answer = ask(page, "sketch", card=CARD | {"font": gone})
    assert (answer.status_code, answer.json()) == (409, {"missing": [gone]})


def test_a_queue_is_what_a_run_of_its_job_file_writes(page: TestClient, tmp_path: Path) -> None:
    cards = [{"text": name, "cap_height_mm": "8"} for name in ("Ann", "Bo")]
    answer = ask(page, "sheet", cards=cards, sheet="A5")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        (tmp_path / "job.toml").write_bytes(packed.read("job.toml"))
        run("run", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out"))
        names = {path.name for path in (tmp_path / "out").iterdir()}
        assert set(packed.namelist()) == names | {"job.toml"}
        assert {"sheet-1.svg", "index.html"} <= names
        for name in names:
            assert packed.read(name) == (tmp_path / "out" / name).read_bytes(), name


def test_what_cannot_be_made_is_shown_but_not_given(page: TestClient) -> None:
    card = {"text": "H", "font": "Pinyon Script", "cap_height_mm": "2"}
    answer = ask(page, "make", card=card).json()
    assert not answer["makeable"]
    assert 'class="ring"' in answer["held"]
    assert "cannot be made" in ask(page, "file", card=card, kind="cut").json()["refused"]


def test_every_method_is_tried_on_request(page: TestClient) -> None:
    found = ask(page, "advice", card={"text": "I", "cap_height_mm": "8"}).json()["methods"]
    assert [one["method"] for one in found] == ["vinyl", "mask", "stencil", "print", "pen"]
    assert all(one["words"] and one["card"]["method"] == one["method"] for one in found)


def test_ten_tabs_at_once_do_not_mix(page: TestClient) -> None:
    def tab(number: int) -> list[tuple[str, Any]]:
        found = []
        for length in range(1, 5):
            words = f"Rod{number}"[:length] + "x" * number
            found.append(
                (words, page.post("/ask/sketch", json={"tab": f"tab {number}", "card": CARD | {"text": words}}))
            )
        return found

    with ThreadPoolExecutor(10) as tabs:
        answers = [pair for found in tabs.map(tab, range(10)) for pair in found]
    for words, answer in answers:
        assert f'aria-label="{words} on the rod' in answer.json()["rod"]
    assert page.get("/alive").json() == {"alive": True}


def test_what_takes_too_long_is_stopped_and_the_next_is_made(page: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(SECONDS, "cures", 0.2)
    answer = ask(page, "cures", card=CARD | {"text": "Otterhythe Rods", "font": "Pinyon Script"}).json()
    assert "took longer than 0.2 seconds" in answer["refused"]
    monkeypatch.undo()
    assert ask(page, "cures", card={"text": "I", "cap_height_mm": "8"}).json() == {"cures": []}


def test_a_newer_request_of_a_tab_takes_the_place_of_an_older(page: TestClient) -> None:
    slow = CARD | {"text": "Marshlight No. 7 of Otterhythe Rods", "font": "Kaushan Script"}
    with ThreadPoolExecutor(1) as hands:
        old = hands.submit(ask, page, "make", card=slow)
        time.sleep(0.5)  # the older one is under way by then
        new = ask(page, "make", card={"text": "I", "cap_height_mm": "8"}).json()
        assert old.result().json() == {"stale": True}
    assert new["makeable"]


def test_answers_are_sent_at_once() -> None:
    """Without it the kernel holds back the last packet of an answer for some 40 ms, a third of what a keystroke has."""

    async def told() -> int:
        seen: asyncio.Future[int] = asyncio.get_running_loop().create_future()

        def met(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            seen.set_result(writer.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        sock = listening(None)
        async with await asyncio.start_server(met, sock=sock):
            _, writer = await asyncio.open_connection(*sock.getsockname())
            writer.close()
            return await seen

    assert asyncio.run(told())
