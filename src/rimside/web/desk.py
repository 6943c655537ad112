"""One production folder at work: what was read of it is kept as long as its files are what they were."""

from __future__ import annotations

import hashlib
import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from rimside.casting.result import Casting
from rimside.errors import BadInput
from rimside.files import checkup, job, project
from rimside.files.checkup import Checkup
from rimside.files.history import History
from rimside.files.job import Ready
from rimside.files.project import Production
from rimside.paper.material import BookInput
from rimside.score.reading import Reading
from rimside.web.casting_job import CastingJob

KEPT = 80
"""How many things that were read are kept at once."""
_T = TypeVar("_T")


@dataclass(slots=True)
class Desk:
    """A production folder and what was last read of it. Any number of threads may ask at once."""

    folder: Path
    casting_job: CastingJob | None = None
    _kept: dict[Hashable, object] = field(default_factory=dict)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _history: History | None = None

    def production(self) -> Production:
        """The folder as it lies on the disc now; a step that was cut off is finished first."""
        self.history()
        return project.load(self.folder)

    def reading(self, production: Production) -> Reading:
        """The score as figures."""
        of = (production.facts.score, project.TECHNIQUES, project.PRODUCTION)
        return self._once(("reading", *(production.hashes.get(name) for name in of)), production.reading)

    def casting(self, production: Production, name: str) -> Casting:
        """A casting by its name; BadInput when there is none."""
        return self._once(
            ("casting", name, project.casting_sha(production, name)), lambda: project.read_casting(production, name)
        )

    def material(self, production: Production, name: str) -> BookInput:
        """A casting with all that is shown beside it."""

        def made() -> BookInput:
            return job.material(production, name, self.casting(production, name), self.reading(production))

        return self._once(("material", *_all(production, name)), made)

    def going_on(self, production: Production, name: str) -> Ready:
        """What casting goes on from a casting, read once; the question is posed once for all pins."""
        reading = self.reading(production)
        of = sorted((file, sha) for file, sha in production.hashes.items() if file != project.PINS)
        known = self._once(("posed", name, *of), lambda: job.posed(production, name, reading))
        key = ("going on", name, project.casting_sha(production, name), *of)
        return self._once(key, lambda: job.going_on(production, name, reading, known))

    def once(self, key: Hashable, production: Production, name: str, make: Callable[[BookInput], _T]) -> _T:
        """Something that is made of a casting's material, made once for the same files; `key` says what."""
        shown = self.material(production, name)
        return self._once((key, *_all(production, name)), lambda: make(shown))

    def checkup(self, production: Production) -> Checkup:
        """Whether every file is good and every casting and book holds."""
        made = [path for inner in ("castings/*.json", "book/*") for path in sorted(self.folder.glob(inner))]
        shas = [(path.name, hashlib.sha256(path.read_bytes()).hexdigest()) for path in made if path.is_file()]
        key = ("checkup", *shas, *sorted(production.hashes.items()))
        return self._once(key, lambda: checkup.check(str(self.folder)))

    def name(self, production: Production, asked: str | None) -> str:
        """The casting that is meant: the one asked for, else the main piano's (made already or not), else the first.

        Raises
        ------
        BadInput : none of the name that was asked for.
        """
        names = project.casting_names(self.folder)
        if asked is None and not names:
            return production.facts.piano
        if asked is None and production.facts.piano not in names and names:
            return names[0]
        chosen = production.facts.piano if asked is None else asked
        if chosen not in names:
            hint = f"rimside cast {self.folder} makes one"
            raise BadInput("there is no such casting", value=chosen, allowed=", ".join(names) or "none yet", hint=hint)
        return chosen

    def begin(self, work: CastingJob) -> CastingJob:
        """Begin a casting.

        Raises
        ------
        BadInput : one is being made already.
        """
        with self._lock:
            if self.casting_job is not None and self.casting_job.running:
                raise BadInput("a casting is being made already", hint="wait for it, or stop it")
            self.casting_job = work
            work.start()
            return work

    def history(self) -> History:
        """The steps of this folder, opened once; what was cut off the last time is finished then."""
        if (opened := self._history) is not None:
            return opened
        with self._lock:
            if self._history is None:
                self._history = History(self.folder)
            return self._history

    def close(self) -> None:
        """Let go of the files."""
        with self._lock:
            if self._history is not None:
                self._history.close()
                self._history = None

    def _once(self, key: Hashable, make: Callable[[], _T]) -> _T:
        with self._lock:
            if key not in self._kept:
                made = make()
                while len(self._kept) >= KEPT:
                    del self._kept[next(iter(self._kept))]
                self._kept[key] = made
            return self._kept[key]  # type: ignore[return-value]


def _all(production: Production, name: str) -> tuple[Hashable, ...]:
    """All that a casting's material is made of."""
    return name, project.casting_sha(production, name), *sorted(production.hashes.items())
