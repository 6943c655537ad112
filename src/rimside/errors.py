"""Errors that say what, where, the value, what is allowed, and what to try."""

from __future__ import annotations


class RimsideError(Exception):
    """Anything that Rimside tells a person about instead of failing silently."""


class BadInput(RimsideError):
    """Something a person wrote, measured or named that cannot be used as it is.

    Parameters
    ----------
    what : the plain sentence, without a full stop ("length_mm is outside the possible range").
    where : file and place in it ("pianos/hall.toml, section tenor"); empty when the caller adds it.
    value : the offending value as written; None when there is none.
    allowed : what would have been accepted; empty when that says nothing.
    hint : a guess at the slip, put as a question or a deed ("was it given in metres?").
    way : the keys and numbers of entries that lead there in the file, when they are known; no part of the words.
    """

    def __init__(
        self,
        what: str,
        *,
        where: str = "",
        value: object = None,
        allowed: str = "",
        hint: str = "",
        way: tuple[str | int, ...] = (),
    ) -> None:
        self.what, self.where, self.value, self.allowed, self.hint, self.way = what, where, value, allowed, hint, way
        super().__init__(what)

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        if self.value is not None:
            text += f": {self.value!r}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        return f"{text}; {self.hint}" if self.hint else text

    @property
    def bare(self) -> str:
        """The words without the place, for a page that shows them there."""
        return str(BadInput(self.what, value=self.value, allowed=self.allowed, hint=self.hint))

    def at(self, where: str) -> BadInput:
        """The same error with its place put in front ("pianos/hall.toml" before "section tenor")."""
        place = f"{where}, {self.where}" if self.where else where
        return BadInput(self.what, where=place, value=self.value, allowed=self.allowed, hint=self.hint, way=self.way)


class Interrupted(RimsideError):
    """A person stopped long work; `best` holds the best casting so far, or None."""

    def __init__(self, best: object = None) -> None:
        self.best = best
        super().__init__("stopped before the end")
