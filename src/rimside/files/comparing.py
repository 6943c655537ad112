"""One piano of a production beside another, for its piece."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from rimside import flow
from rimside.casting.compare import Comparison, compare
from rimside.errors import BadInput
from rimside.files import project
from rimside.files.atomic import write_file
from rimside.paper.compare_plan import make_compare_pdf
from rimside.pitch import LabelScheme


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What was found, and what was written."""

    title: str
    found: Comparison
    scheme: LabelScheme
    written: Path | None = None


def beside(folder: str, here: str | None, there: str, pdf: str | None) -> Compared:
    """Compare two pianos of a production.

    Parameters
    ----------
    here : a piano of the production, its first when None.
    there : the other piano.
    pdf : where to print both plans over each other, nowhere when None.

    Raises
    ------
    BadInput : a slip in a file, a piano that production.toml does not list, one piano twice.
    """
    production = project.load(Path(folder))
    first = here or production.facts.piano
    if first == there:
        raise BadInput("is the same piano", where="--with", value=there, allowed=", ".join(production.facts.pianos))
    reading, players, kit = production.reading(), production.players(), production.kit()
    questions = [flow.question(reading, production.piano(name), players, kit) for name in (first, there)]
    found = compare(*questions)
    written = None
    if pdf is not None:
        written = Path(pdf)
        write_file(written, make_compare_pdf(found, production.facts.title, production.facts.labels), pdf)
    return Compared(title=production.facts.title, found=found, scheme=production.facts.labels, written=written)
