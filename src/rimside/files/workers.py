"""Where the casts of a tour are worked out: processes on this machine, or an existing cluster, with the same results.

A worker only answers; whoever asked writes. So a worker that dies takes nothing with it but the cast in its hands, and
that is given to another.
"""

from __future__ import annotations

import logging
import multiprocessing
import re
import signal
import traceback
from collections import Counter, deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from typing import Any

from rimside import __version__
from rimside.casting.result import Casting
from rimside.casting.verify import Breach
from rimside.errors import BadInput, RimsideError
from rimside.files import job
from rimside.files.job import Ready, Report

AT_ONCE = 2
"""Processes on this machine."""
ATTEMPTS = 3
"""How often a cast is begun before a worker that dies over it is taken for its fault."""
TICK_S = 0.2
"""The longest time between two looks at whether somebody has stopped it."""
PATIENCE_S = 10.0
"""How long a cluster may take to answer at all."""
CLUSTER_OPTION = "--scheduler"
ADDRESS = re.compile(r"((tcp|tls|ws|wss)://)?[^:/\s]+:\d{1,5}")
"""Of a cluster's scheduler."""

Answer = tuple[Casting, tuple[Breach, ...]]
Told = Callable[[int, "Answer | RimsideError"], None]
"""Told the number of a question, and its answer or why there is none."""


def here(questions: Sequence[Ready], told: Told, report: Report, meanwhile: Callable[[], None] = lambda: None) -> None:
    """Answer all questions with a few processes of this machine, one process for each question.

    KeyboardInterrupt passes through, and so does whatever `meanwhile` raises, which is called several times a second;
    the processes are ended first, and what was told before stays told.
    """
    office = _Office(questions=questions, told=told, report=report, meanwhile=meanwhile)
    try:
        office.run()
    finally:
        office.close()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Progress:
    stage: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fault:
    """An error that is none of Rimside's own, as its traceback."""

    text: str


@dataclass(slots=True, kw_only=True)
class _Desk:
    """One process, the question in its hands, and how far it is."""

    number: int
    process: BaseProcess
    share: float = 0.0


@dataclass(slots=True, kw_only=True)
class _Office:
    questions: Sequence[Ready]
    told: Told
    report: Report
    meanwhile: Callable[[], None]
    desks: dict[Connection, _Desk] = field(default_factory=dict)
    lost: Counter[int] = field(default_factory=Counter)
    done: int = 0

    def run(self) -> None:
        waiting = deque(range(len(self.questions)))
        while waiting or self.desks:
            while waiting and len(self.desks) < AT_ONCE:
                self._begin(waiting.popleft())
            heard = wait(list(self.desks), timeout=TICK_S)
            self.meanwhile()
            for ear in heard:
                assert isinstance(ear, Connection)
                self._hear(ear, waiting)

    def close(self) -> None:
        for ear in list(self.desks):
            self.desks[ear].process.terminate()
            self._leave(ear)

    def _begin(self, number: int) -> None:
        spawning = multiprocessing.get_context("spawn")
        ear, mouth = spawning.Pipe(duplex=False)
        process = spawning.Process(target=_work, args=(self.questions[number], mouth), daemon=True)
        with _no_interrupts():
            process.start()
        mouth.close()
        self.desks[ear] = _Desk(number=number, process=process)

    def _hear(self, ear: Connection, waiting: deque[int]) -> None:
        """One message of one process; the end of its line without an answer means that it died."""
        desk = self.desks[ear]
        try:
            message = ear.recv()
        except (EOFError, OSError):
            self._leave(ear)
            self.lost[desk.number] += 1
            if self.lost[desk.number] < ATTEMPTS:
                waiting.appendleft(desk.number)
            else:
                self._settle(desk.number, lost())
            return
        if isinstance(message, _Progress):
            desk.share = message.share
            self._tell(f"{self.questions[desk.number].name}: {message.stage}")
            return
        self._leave(ear)
        if isinstance(message, _Fault):
            raise RuntimeError(message.text)
        self._settle(desk.number, message)

    def _settle(self, number: int, answer: Answer | RimsideError) -> None:
        self.done += 1
        self.told(number, answer)
        self._tell(self.questions[number].name)

    def _tell(self, stage: str) -> None:
        share = self.done + sum(desk.share for desk in self.desks.values())
        self.report(f"{self.done}/{len(self.questions)} {stage}", share / len(self.questions))

    def _leave(self, ear: Connection) -> None:
        desk = self.desks.pop(ear)
        ear.close()
        desk.process.join()


def lost() -> BadInput:
    """What is said of a cast whose workers all died."""
    return BadInput(f"its worker died {ATTEMPTS} times over it", hint="is there enough memory?")


@contextmanager
def _no_interrupts() -> Iterator[None]:
    """Ctrl-C goes to every process of a terminal; those started in here never see it, this one does afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _work(question: Ready, mouth: Connection) -> None:
    """The life of one process."""

    def report(stage: str, share: float) -> None:
        mouth.send(_Progress(stage=stage, share=share))

    try:
        mouth.send(_answered(question, report))
    except BrokenPipeError:
        return  # nobody is left to be told


def _answered(question: Ready, report: Report) -> Answer | RimsideError | _Fault:
    try:
        return job.solve(question, report)
    except RimsideError as slip:
        return slip
    except BrokenPipeError:
        raise
    except Exception:
        return _Fault(text=traceback.format_exc())


def on_cluster(address: str, questions: Sequence[Ready], told: Told, report: Report) -> None:
    """Answer all questions on an existing cluster, by the address of its scheduler.

    Raises
    ------
    BadInput : the library for clusters is not installed, no cluster answers, or it went away.
    """
    with _cluster(address) as client:
        from distributed import as_completed

        asked = {
            client.submit(_answer, q, __version__, pure=False, retries=ATTEMPTS - 1): n for n, q in enumerate(questions)
        }
        for count, future in enumerate(as_completed(asked, loop=client.loop), start=1):
            told(asked[future], _of_cluster(future, address))
            report(f"{count}/{len(questions)} {questions[asked[future]].name}", count / len(questions))


@contextmanager
def _cluster(address: str) -> Iterator[Any]:
    if ADDRESS.fullmatch(address) is None:
        raise BadInput("is no address of a cluster", where=CLUSTER_OPTION, value=address, allowed="tcp://HOST:PORT")
    try:
        from distributed import Client
    except ImportError as missing:
        hint = "pip install 'rimside[cluster]'"
        raise BadInput("needs the library for clusters", where=CLUSTER_OPTION, value=address, hint=hint) from missing
    try:
        with _hushed():
            client = Client(address, timeout=PATIENCE_S, set_as_default=False)
    except (OSError, ValueError) as refused:
        hint = "is it running, and is this its address?"
        raise BadInput("no cluster answers", where=CLUSTER_OPTION, value=address, hint=hint) from refused
    with _hushed(), client:
        if not client.scheduler_info()["workers"]:
            raise BadInput("the cluster has no workers", where=CLUSTER_OPTION, value=address)
        yield client


@contextmanager
def _hushed() -> Iterator[None]:
    """The cluster's library logs its own tracebacks of a lost connection; a person is told in one message instead."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def _answer(question: Ready, version: str) -> Answer | RimsideError:
    """What a worker of a cluster does."""
    if version != __version__:
        what = f"a worker of the cluster has Rimside {__version__}, not {version}"
        raise BadInput(what, where=CLUSTER_OPTION, hint="install the same version there")
    try:
        return job.solve(question, lambda stage, share: None)
    except RimsideError as slip:
        return slip


def _of_cluster(future: Any, address: str) -> Answer | RimsideError:
    """What became of one question; that the cluster itself went away ends the tour."""
    from distributed import KilledWorker

    if future.cancelled() or future.status == "lost":
        raise BadInput("the cluster went away", where=CLUSTER_OPTION, value=address, hint="what is done is kept")
    error = future.exception()
    if isinstance(error, KilledWorker):
        return lost()
    if isinstance(error, ModuleNotFoundError):
        raise BadInput(f"a worker of the cluster lacks a library ({error})", where=CLUSTER_OPTION, value=address)
    if error is not None:
        raise error
    answer: Answer | RimsideError = future.result()
    return answer
