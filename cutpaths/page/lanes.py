"""Lanes: worker processes that do tasks, the newest of each tab first and alone, within limits of time and memory.

A task that a newer one of the same tab makes useless is dropped while it waits; when it runs, its process is ended
and another takes its place, so that no keystroke has to wait for the one before it.
"""

from __future__ import annotations

import asyncio
import contextlib
import multiprocessing
import os
from collections import deque
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from cutpaths.page.work import Asked

# Seconds that a task may take and memory that a worker may have; a job that needs more is no label for a rod.
SECONDS = {"sketch": 10.0, "make": 150.0, "file": 200.0, "cures": 240.0, "advice": 240.0, "faces": 30.0,
           "upload": 20.0, "job": 10.0, "sheet": 600.0}  # fmt: skip
MOST_BYTES = 3 * 2**30
# A worker is replaced after so many tasks, so that whatever it keeps is given back.
MOST_TASKS = 400
STALE = {"stale": True}
WAITING_MOST = 64


@dataclass(slots=True, eq=False)
class _Entry:
    task: str
    asked: Asked
    owner: str
    done: asyncio.Future[dict[str, Any]]
    stale: bool = False


@dataclass(slots=True, eq=False)
class _Worker:
    process: Any
    pipe: Connection
    entry: _Entry | None = None
    tasks: int = 0


def _work(pipe: Connection, patient: bool) -> None:
    """The life of a worker: a task in, an answer out, until the pipe closes."""
    import signal  # noqa: PLC0415

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _limit_memory()
    if patient and hasattr(os, "nice"):
        os.nice(10)
    from cutpaths.page.work import answered  # noqa: PLC0415 - heavy

    while True:
        try:
            task, asked = pipe.recv()
        except EOFError:
            return
        try:
            answer = answered(task, asked)
        except MemoryError:
            answer = {"refused": "this needs more memory than a label may take", "faults": {}}
        except Exception as error:  # a worker must not end over one job; the words name what went wrong
            answer = {"refused": f"something went wrong in the program ({type(error).__name__})", "faults": {}}
        try:
            pipe.send(answer)
        except OSError:  # the server is gone
            return


def _limit_memory() -> None:
    with contextlib.suppress(ImportError, ValueError, OSError):  # not on every system
        import resource  # noqa: PLC0415

        resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))


def _context() -> Any:
    """How processes are begun: forked from one that has everything loaded, where the system can do that."""
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["cutpaths.page.work"])
    return context


@dataclass(slots=True, eq=False)
class Lane:
    """Some workers with one queue. Used in one event loop only. patient: they let others have the processor first."""

    count: int
    patient: bool = False
    waiting: deque[_Entry] = field(default_factory=deque)
    workers: list[_Worker] = field(default_factory=list)
    loops: list[asyncio.Task[None]] = field(default_factory=list)
    ready: asyncio.Condition = field(default_factory=asyncio.Condition)
    threads: ThreadPoolExecutor | None = None
    closed: bool = False

    async def start(self) -> None:
        """Begin the workers."""
        self.threads = ThreadPoolExecutor(self.count)
        self.workers = [_fresh(patient=self.patient) for _ in range(self.count)]
        self.loops = [asyncio.create_task(self._serve(k)) for k in range(self.count)]

    async def stop(self) -> None:
        """End the workers."""
        self.closed = True
        for loop in self.loops:
            loop.cancel()
        for worker in self.workers:
            _end(worker)
        if self.threads is not None:
            self.threads.shutdown(wait=False)

    async def do(self, task: str, asked: Asked, *, owner: str) -> dict[str, Any]:
        """The answer to a task; `STALE` where a newer one of the same owner took its place."""
        entry = _Entry(task, asked, owner, asyncio.get_running_loop().create_future())
        for old in [e for e in self.waiting if e.owner == owner]:
            self.waiting.remove(old)
            _answer(old, STALE)
        for worker in self.workers:
            if worker.entry is not None and worker.entry.owner == owner:
                worker.entry.stale = True
                worker.process.kill()
        if len(self.waiting) >= WAITING_MOST:
            return {"refused": "too much is waiting to be made; try again in a moment", "faults": {}}
        self.waiting.append(entry)
        async with self.ready:
            self.ready.notify()
        return await entry.done

    async def _serve(self, k: int) -> None:
        while not self.closed:
            async with self.ready:
                await self.ready.wait_for(lambda: bool(self.waiting))
                entry = self.waiting.popleft()
            if entry.done.cancelled():
                continue
            if self.workers[k].tasks >= MOST_TASKS:
                self._replace(k)
            worker = self.workers[k]
            worker.entry, worker.tasks = entry, worker.tasks + 1
            answer = await self._answer_of(worker, entry)
            worker.entry = None
            if answer is None or entry.stale:
                self._replace(k)
                answer = STALE if entry.stale else {"refused": "the program that makes labels stopped", "faults": {}}
            elif answer.get("ended"):
                self._replace(k)
            _answer(entry, answer)

    async def _answer_of(self, worker: _Worker, entry: _Entry) -> dict[str, Any] | None:
        seconds = SECONDS[entry.task]
        loop = asyncio.get_running_loop()
        try:
            found = loop.run_in_executor(self.threads, _ask, worker.pipe, (entry.task, entry.asked))
            return await asyncio.wait_for(asyncio.shield(found), seconds)
        except TimeoutError:
            worker.process.kill()
            with contextlib.suppress(Exception):
                await found
            words = f"this took longer than {seconds:g} seconds and was stopped: fewer words or a plainer face will do"
            return {"refused": words, "faults": {}, "ended": True}
        except (EOFError, OSError):
            return None

    def _replace(self, k: int) -> None:
        _end(self.workers[k])
        self.workers[k] = _fresh(patient=self.patient)


def _ask(pipe: Connection, message: tuple[str, Asked]) -> dict[str, Any]:
    pipe.send(message)
    found: dict[str, Any] = pipe.recv()
    return found


def _answer(entry: _Entry, answer: dict[str, Any]) -> None:
    if not entry.done.done():
        entry.done.set_result(answer)


def _fresh(*, patient: bool) -> _Worker:
    context = _context()
    ours, theirs = context.Pipe()
    process = context.Process(target=_work, args=(theirs, patient), daemon=True)
    process.start()
    theirs.close()
    return _Worker(process, ours)


def _end(worker: _Worker) -> None:
    with contextlib.suppress(OSError, ValueError):
        worker.process.kill()
        worker.process.join(5)
        worker.process.close()
    with contextlib.suppress(OSError):
        worker.pipe.close()


def cores() -> int:
    """How many workers make labels at a time."""
    return max(1, min(4, (os.cpu_count() or 2) - 1))
