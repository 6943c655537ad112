"""A whole casting, made in a process beside the page; its end is one step."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, field

from rimside.errors import RimsideError
from rimside.files import project, workers
from rimside.files.history import History
from rimside.files.job import Ready
from rimside.files.workers import Answer


class Stopped(RimsideError):
    """A person stopped it."""


@dataclass(slots=True, kw_only=True)
class CastingJob:
    """One question being answered; `words` say how it ended."""

    ready: Ready
    history: History
    at: str
    stage: str = "begun"
    share: float = 0.0
    words: str = ""
    slip: str = ""
    _stopping: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    @property
    def running(self) -> bool:
        """Whether it is still at work."""
        return self._thread is not None and self._thread.is_alive()

    def start(self) -> None:
        """Begin."""
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop at once, whatever it is at."""
        self._stopping.set()

    def state(self) -> Mapping[str, object]:
        """What the page shows of it."""
        return {
            "running": self.running, "stage": self.stage, "share": round(self.share, 3), "words": self.words,
            "slip": self.slip,
        }  # fmt: skip

    def _run(self) -> None:
        try:
            workers.here([self.ready], self._told, self._report, self._look)
        except Stopped:
            self.words = "stopped; every file is as it was"
        except RimsideError as slip:
            self.slip = str(slip)
        finally:
            if not self.words and not self.slip:
                self.slip = "it ended without an answer; the window where the page was started says why"

    def _report(self, stage: str, share: float) -> None:
        self.stage, self.share = stage, share

    def _look(self) -> None:
        if self._stopping.is_set():
            raise Stopped("stopped")

    def _told(self, number: int, answer: Answer | RimsideError) -> None:
        if isinstance(answer, RimsideError):
            raise answer
        casting, breaches = answer
        production, name = self.ready.production, self.ready.name
        casting = project.dated(production, casting, name)
        data = project.casting_bytes(production, casting, name)
        count = len(casting.figures)
        self.words = f"{name}: {count - len(casting.uncast)} of {count} figures cast"
        if changed := project.changed_since(project.load(production.folder), casting, name):
            self.words += f"; {', '.join(changed)} changed meanwhile, so cast once more"
        if breaches:
            self.slip = f"broken rules, please report this: {breaches[0].message}"
        self.history.change(f"cast {name}", {f"{project.CASTINGS}/{name}.json": data}, at=self.at)
