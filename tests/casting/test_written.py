"""What a casting is judged by is what can be read back from its file."""

from __future__ import annotations

import json

from rimside.casting.result_json import from_json, to_json
from rimside.casting.verify import levels
from tests.casting.solving import question, solved
from tests.casting.test_search import crowded


def test_a_casting_read_back_is_the_same_casting() -> None:
    """Every length, moment and level of a casting survives the file exactly; a lean at the edge once did not."""
    world = crowded(1, 10, length_s=8.0)
    casting = solved(world, 2.0)
    again = from_json(json.loads(json.dumps(to_json(casting))), "casting")
    assert again.cast == casting.cast
    assert again.figures == casting.figures
    assert again.players == casting.players
    assert again.pedals == casting.pedals
    assert levels(again, world.kit) == levels(casting, world.kit)


def test_the_solver_sees_moments_as_files_write_them() -> None:
    """A figure that starts at a third of a second starts at 0.333333 in the question already."""
    assert all(task.start_s == round(task.start_s, 6) for task in question(crowded(1, 10, length_s=8.0)).tasks)
