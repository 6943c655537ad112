"""Notes a second: our reader with its repeats, ties and seconds, against music21 on the same files in one run.

    python -m benchmarks.bench_reading

The files are read from the installed music21 wheel. music21 is asked for what we give: notes as played, at sounding
pitch. Times are the best of three for us; once for music21, whose first import is not counted.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rimside.score.figures import make_figures
from rimside.score.read_musicxml import read_musicxml
from rimside.score.words import default_vocabulary

FILES = (
    "bach/bwv66.6.mxl",
    "mozart/k156/movement4.mxl",
    "mozart/k156/movement1.mxl",
    "monteverdi/madrigal.3.1.mxl",
    "joplin/maple_leaf_rag.mxl",
    "haydn/opus74no1/movement1.mxl",
)
VOCABULARY = default_vocabulary()


def timed(deed: Callable[[], int], rounds: int) -> tuple[int, float]:
    """What a deed counts, and its best time in s."""
    best_s, count = float("inf"), 0
    for _ in range(rounds):
        start_s = time.perf_counter()
        count = deed()
        best_s = min(best_s, time.perf_counter() - start_s)
    return count, best_s


def ours(path: Path) -> int:
    score = read_musicxml(path.read_bytes(), path.name, VOCABULARY)
    make_figures(score)
    return len(score.notes)


def theirs(path: Path, music21: Any) -> int:
    parsed = music21.converter.parse(path, forceSource=True)
    expanded = [part.expandRepeats().toSoundingPitch().stripTies().flatten().notes for part in parsed.parts]
    return sum(len(note.pitches) for notes in expanded for note in notes if hasattr(note, "pitches"))


def main() -> None:
    import music21

    warnings.simplefilter("ignore")
    corpus = Path(music21.__file__).parent / "corpus"
    print(f"{'file':36} {'notes':>6} {'ours, notes/s':>14} {'music21, notes/s':>17} {'times':>6}")
    for name in FILES:
        path = corpus / name
        count, ours_s = timed(lambda path=path: ours(path), 3)  # type: ignore[misc]
        their_count, theirs_s = timed(lambda path=path: theirs(path, music21), 1)  # type: ignore[misc]
        rate, their_rate = count / ours_s, their_count / theirs_s
        print(f"{name:36} {count:6} {rate:14.0f} {their_rate:17.0f} {rate / their_rate:6.1f}")


if __name__ == "__main__":
    main()
