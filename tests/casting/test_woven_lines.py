"""From a score too fast for one player to a casting that the judge accepts."""

from __future__ import annotations

import pytest

from rimside.casting.verify import verify
from rimside.flow import plan
from rimside.score.reading import read
from rimside.score.words import default_vocabulary
from tests.casting.worlds import toy_kit, toy_piano, toy_players

HEAD = "#tempo,60\n#meter,4/4\nstart,length,technique,pitches,rhythm,times\n"


@pytest.mark.parametrize(
    ("row", "players"),
    [
        ("1:1,1 beats,felt hammer,C4,xxxxxxxxxxxx,2", 1),
        ("1:1,1 beats,felt hammer,C4,xxxxxxxxxxxxxxxx,2", 2),
        ("1:1,1 beats,felt hammer,C2 G2,xxxxxxxxxxxxxxxx,2", 2),
        ("1:1,1 beats,pizz.,C4 D4 E4 F4 G4 F4 E4 D4,xxxxxxxx,4", 2),
    ],
)
def test_a_fast_line_is_cast_on_as_many_players_as_it_takes(row: str, players: int) -> None:
    """Repetition on one course, two courses in turn, a scale: nothing uncast, nothing wrong."""
    reading = read((HEAD + row).encode(), "score.csv", default_vocabulary())
    piano, ensemble, kit = toy_piano(), toy_players(3), toy_kit()
    casting = plan(reading, piano, ensemble, kit, seconds=3.0)
    assert casting.uncast == ()
    assert len({cast.player for cast in casting.cast}) == players
    assert verify(casting, piano, ensemble, kit) == ()
