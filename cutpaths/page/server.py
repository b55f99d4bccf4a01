"""The server behind the page: it takes cards, hands them to workers, and gives back what they answer."""

from __future__ import annotations

import hashlib
import json
import re
import secrets
import socket
import tempfile
from collections import OrderedDict
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import unquote

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from cutpaths.errors import InputError
from cutpaths.inputs.workshop import Workshop
from cutpaths.page.card import FIELDS
from cutpaths.page.form import page_html
from cutpaths.page.gate import App, Gate, TooLargeError
from cutpaths.page.lanes import Lane, cores
from cutpaths.page.uploads import Upload, plain_name
from cutpaths.page.work import FILES, Asked

USUAL_PORT = 8426
LANE_OF = {"sketch": "quick", "faces": "slow", "make": "true", "file": "true", "upload": "files", "job": "files",
           "cures": "slow", "advice": "slow", "sheet": "files"}  # fmt: skip
MOST_UPLOAD = {"font": 10 * 2**20, "outline": 3 * 2**20, "job": 256 * 2**10}
# Uploads that are kept at a time, all tabs together; a page that misses one sends it again.
KEPT_BYTES = 96 * 2**20
MOST_CARDS, KEPT_LABELS = 200, 40
ENDINGS = {"cut": ".svg", "report": ".json", "marking-out": "-marking-out.pdf", "proof": "-proof.pdf",
           "picture": "-on-the-rod.svg", "map": "-map.svg", "trial": "-trial.svg",
           "practice": "-practice.pdf", "colours": "-colours.zip"}  # fmt: skip
TYPES = {".svg": "image/svg+xml", ".json": "application/json", ".pdf": "application/pdf", ".zip": "application/zip",
         ".toml": "application/toml"}  # fmt: skip
STATIC = {"/page.css": "text/css", "/page.js": "text/javascript"}


class BadRequestError(Exception):
    """A request that the page would never send."""


@dataclass(slots=True, eq=False)
class Desk:
    """What the server holds: workers, uploads by the hash of their bytes, the workshop's own figures."""

    workshop: Workshop
    lanes: dict[str, Lane]
    uploads: OrderedDict[str, Upload] = field(default_factory=OrderedDict)
    folder: Path = Path()
    ready: OrderedDict[str, dict[str, bytes]] = field(default_factory=OrderedDict)

    def at_hand(self, asked: Asked, files: dict[str, bytes]) -> None:
        """Files of a label that was just made, for who takes them next."""
        self.ready[_key(asked)] = files
        while len(self.ready) > KEPT_LABELS:
            self.ready.popitem(last=False)

    def keep(self, key: str, upload: Upload) -> None:
        """One more upload; the oldest are let go."""
        self.uploads[key] = upload
        self.uploads.move_to_end(key)
        while sum(len(u.data) for u in self.uploads.values()) > KEPT_BYTES and len(self.uploads) > 1:
            _, old = self.uploads.popitem(last=False)
            if old.path is not None:
                old.path.unlink(missing_ok=True)


def app_for(*, token: str, hosts: tuple[str, ...], workshop: Workshop, cookie: str = "cutpaths") -> App:
    """The whole server as one ASGI application, gate and all."""
    lanes = {"quick": Lane(1), "true": Lane(cores(), True), "files": Lane(1), "slow": Lane(1, True)}
    desk = Desk(workshop, lanes)

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        with tempfile.TemporaryDirectory(prefix="cutpaths-page-") as folder:
            desk.folder = Path(folder)
            for lane in lanes.values():
                await lane.start()
            yield
            for lane in lanes.values():
                await lane.stop()

    home = page_html()
    routes = [
        Route("/", lambda _: HTMLResponse(home)),
        *(Route(path, _static(path, kind)) for path, kind in STATIC.items()),
        Route("/alive", lambda _: JSONResponse({"alive": True})),
        Route("/ask/{task}", _asking(desk), methods=["POST"]),
        Route("/upload/{kind}", _receiving(desk), methods=["POST"]),
    ]
    refused = {
        BadRequestError: _refused(400, "That is nothing this page sends."),
        TooLargeError: _refused(413, "That file is too large."),
        ClientDisconnect: _refused(400, "The request was cut short."),
    }
    return Gate(
        Starlette(routes=routes, lifespan=life, exception_handlers=refused), token=token, hosts=hosts, cookie=cookie
    )


def _refused(status: int, words: str) -> Any:
    async def answer(_: Request, __: Exception) -> Response:
        return JSONResponse({"refused": words, "faults": {}}, status_code=status)

    return answer


def _static(path: str, kind: str) -> Any:
    data = files("cutpaths.page").joinpath(path[1:]).read_bytes()
    return lambda _: Response(data, media_type=kind)


def _asking(desk: Desk) -> Any:
    async def ask(request: Request) -> Response:
        task = request.path_params["task"]
        if task not in LANE_OF or task == "upload":
            raise BadRequestError
        said = await _said(request)
        asked, missing = _asked(said, desk, whole=task == "sheet")
        if missing:
            return JSONResponse({"missing": missing}, status_code=409)
        if task == "file" and asked.kind not in FILES:
            raise BadRequestError
        ready = desk.ready.get(_key(asked), {}) if task == "file" else {}
        if asked.kind in ready:
            answer: dict[str, Any] = {"data": ready[asked.kind]}
        else:
            answer = await desk.lanes[LANE_OF[task]].do(task, asked, owner=_owner(said, task))
        if files := answer.pop("files", None):
            desk.at_hand(asked, files)
        if "data" not in answer:
            return JSONResponse(answer)
        ending = {"job": ".toml", "sheet": ".zip"}.get(task) or ENDINGS[asked.kind]
        return _file(answer["data"], _slug(asked) + ending, told=answer.get("told", []))

    return ask


async def _said(request: Request) -> dict[str, Any]:
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
        raise BadRequestError
    try:
        said = json.loads(await request.body())
    except (ValueError, RecursionError):
        raise BadRequestError from None
    if not isinstance(said, dict):
        raise BadRequestError
    return said


def _owner(said: Mapping[str, Any], task: str) -> str:
    """The tab, and for files the task as well, so that one file does not call off another."""
    tab = str(said.get("tab", ""))[:40]
    return f"{tab} {task} {said.get('kind', '')}" if task == "file" else f"{tab} {task}"


def _asked(said: Mapping[str, Any], desk: Desk, *, whole: bool) -> tuple[Asked, list[str]]:
    """The request as a task, and uploads that it names but the server no longer has.

    whole: fonts go along with their bytes; else the worker reads them from the server's folder.
    Raises: BadRequestError.
    """
    cards = said.get("cards", [])
    if not isinstance(cards, list) or len(cards) > MOST_CARDS:
        raise BadRequestError
    card, others = _card(said.get("card", {})), tuple(_card(c) for c in cards)
    named = {c[key] for c in (card, *others) for key in ("font", "outline") if _is_upload(c.get(key, ""))}
    missing = sorted(name for name in named if name not in desk.uploads)
    sheet = said.get("sheet", "A4")
    kind = said.get("kind", "")
    if not isinstance(sheet, str) or not isinstance(kind, str):
        raise BadRequestError
    known = {name: desk.uploads[name] for name in named if name in desk.uploads}
    uploads = {name: u if whole or u.path is None else replace(u, data=b"") for name, u in known.items()}
    asked = Asked(card=card, uploads=uploads, workshop=desk.workshop, kind=kind, cards=others, sheet=sheet)
    return replace(asked, narrow=said.get("narrow") is True), missing


def _key(asked: Asked) -> str:
    """Equal for equal cards; a dropped file is named by the hash of its bytes."""
    return json.dumps(sorted((name, text) for name, text in asked.card.items() if text.strip()))


def _card(value: Any) -> dict[str, str]:
    if not isinstance(value, dict) or not all(isinstance(v, str) for v in value.values()):
        raise BadRequestError
    return {key: text for key, text in value.items() if key in FIELDS}


def _is_upload(name: str) -> bool:
    return re.fullmatch(r"upload-[0-9a-f]{64}", name) is not None


def _receiving(desk: Desk) -> Any:
    async def receive(request: Request) -> Response:
        kind = request.path_params["kind"]
        if kind not in MOST_UPLOAD:
            raise BadRequestError
        data = await request.body()
        if len(data) > MOST_UPLOAD[kind]:
            raise TooLargeError
        name = plain_name(unquote(request.headers.get("x-name", "")))
        key = f"upload-{hashlib.sha256(data).hexdigest()}"
        path = None
        if kind == "font":
            path = desk.folder / f"{key}.font"
            path.write_bytes(data)
        upload = Upload(name=name, data=data if kind != "font" else b"", path=path)
        card = {"name": name}
        asked = Asked(card=card, uploads={key: upload}, workshop=desk.workshop, kind=kind, data=data)
        answer = await desk.lanes["files"].do("upload", asked, owner=f"{request.headers.get('x-tab', '')} {key}")
        if "said" in answer:
            desk.keep(key, Upload(name=name, data=data, path=path))
            answer |= {"key": key, "name": name}
        elif path is not None and key not in desk.uploads:
            path.unlink(missing_ok=True)
        return JSONResponse(answer)

    return receive


def _slug(asked: Asked) -> str:
    """A file name from the words."""
    words = (asked.cards[0] if asked.cards else asked.card).get("text", "") if len(asked.cards) < 2 else "labels"
    return re.sub(r"[^a-z0-9]+", "-", words.casefold()).strip("-")[:60] or "label"


def _file(data: bytes, name: str, *, told: list[str]) -> Response:
    kind = TYPES[Path(name).suffix]
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    if told:
        headers["x-told"] = json.dumps(told[:20])
    return Response(data, media_type=kind, headers=headers)


def listening(port: int | None) -> socket.socket:
    """A socket on the loopback address; without a port the usual one, or a free one where that is taken.

    Raises: InputError: the port that was asked for cannot be had.
    """
    for tried in (USUAL_PORT, 0) if port is None else (port,):
        # The event loop sends at once, instead of waiting up to 40 ms to fill a packet, only where TCP is named.
        found = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            found.bind(("127.0.0.1", tried))
            found.listen(128)  # who comes before the server is ready waits
        except (OSError, OverflowError) as error:
            found.close()
            if tried == 0 or port is not None:
                raise InputError(f"port {tried} cannot be used: {error}; take another with --port") from None
        else:
            return found
    raise AssertionError


def new_token() -> str:
    """A token that nobody can guess."""
    return secrets.token_urlsafe(24)
