"""What is written to `castings/*.json` can be read back, by us and by anyone who has only the file."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from rimside.casting.result import CastChore, CastFigure, Casting, PedalAction, Uncast
from rimside.casting.result_json import LEVEL_NAMES, from_json, to_json
from rimside.errors import BadInput
from rimside.kit import Implement
from rimside.pitch import Key
from rimside.score.model import Mute, Technique, Touch
from tests.casting.strategies import any_castings
from tests.casting.worlds import World, casting, figure, on_course, on_spot, toy_kit, toy_piano, toy_players

WHERE = "castings/toy.json"


def example() -> Casting:
    """One of everything that a casting can hold."""
    piano = toy_piano()
    figures = (
        figure(
            "f1",
            Technique.LINE_BOW,
            [40],
            1.0 / 3.0,
            4.0,
            touch=Touch(k=1, n=3, loose=True),
            essential=True,
            words=("gently",),
        ),
        figure("f2", Technique.BEATER, "frame, bass", 1.0, 2.0, times=3, mute=Mute.NONE, dynamic="pp", cycles=3),
        figure("f3", Technique.KEYS, [30, 34], 2.0, 3.0, mute=Mute.MOULDED, tremolo=True),
    )
    world = World(piano=piano, players=toy_players(2), kit=toy_kit(), figures=figures)
    bow = Implement(id="line 40", kind="line", rest_x_mm=553.0, rest_y_mm=640.0, key=Key(40), from_near_end_mm=140.0)
    contacts = (on_course(piano, 40, 140.0), on_course(piano, 40, 129.4, "touch"))
    cast = (
        CastFigure(
            figure="f1", player="ada", place="p18", hands=("left", "right"), implements=(bow.id,), contacts=contacts
        ),
        CastFigure(
            figure="f2",
            player="ben",
            place="p13",
            hands=("left",),
            implements=("beater 1",),
            contacts=(on_spot(piano, "frame, bass"),),
        ),
    )
    beater = Implement(id="beater 1", kind="beater", rest_x_mm=0.0, rest_y_mm=2400.0)
    return casting(
        world,
        cast,
        (bow, beater),
        values=dict(zip(LEVEL_NAMES, (1, 0, 0, 0, 2, 0), strict=True)),
        uncast=(Uncast(figure="f3", rule="H2", reason="needs three hands", competing=("f1",)),),
        chores=(
            CastChore(
                id="c1", kind="cue", start_s=0.0, end_s=0.5, player=None, place=None, hands=("left",), target="all"
            ),
        ),
        pedals=(PedalAction(pedal="damper", down_s=0.0, up_s=5.0, by="wedge"),),
        made_from={"score.musicxml": "0" * 64},
        seconds=1.25,
    )


def table() -> dict[str, Any]:
    """The example as a reader finds it, through the text of the file."""
    read = json.loads(json.dumps(to_json(example()), allow_nan=False))
    assert isinstance(read, dict)
    return read


def test_the_file_has_the_keys_of_the_format_and_their_order() -> None:
    """The top of the file is what docs/design.md section 6 prints, with the implements among it."""
    promised = "format made_from piano a4_hz players places rim_length_mm figures implements cast chores pedals uncast"
    assert list(table()) == [*promised.split(), "times", "proof", "seconds", "like", "changes", "pins"]


@pytest.mark.parametrize(
    ("rows", "index", "promised"),
    [
        ("players", 0, "id name stature_mm reach_mm comfortable_reach_mm shoulder_height_mm shoulder_breadth_mm"),
        ("places", 0, "id x_mm y_mm heading_deg along_rim_mm"),
        ("figures", 0, "id part section start_s end_s technique keys onsets_s essential"),
        ("figures", 1, "id part section start_s end_s technique spot onsets_s essential"),
        ("cast", 0, "figure player place hands implements contacts"),
        ("chores", 0, "id kind start_s end_s player place hands target"),
        ("pedals", 0, "pedal down_s up_s by"),
        ("uncast", 0, "figure rule reason competing"),
        ("proof", 0, "level value bound proved"),
    ],
)
def test_every_row_has_the_promised_fields(rows: str, index: int, promised: str) -> None:
    """Each row carries at least the fields that docs/design.md section 6 lists."""
    assert set(promised.split()) <= set(table()[rows][index])


def test_contacts_and_times_have_the_promised_fields() -> None:
    """A contact says key or spot, never both, and the times say everything that a change takes."""
    first, second = (row["contacts"][0] for row in table()["cast"])
    assert {"key", "x_mm", "y_mm", "from_near_end_mm"} <= set(first) and "spot" not in first
    assert {"spot", "x_mm", "y_mm", "from_near_end_mm"} <= set(second) and "key" not in second
    assert {"walk_mm_per_s", "turn_s", "pick_s", "put_s", "settle_s"} <= set(table()["times"])


def test_numbers_are_written_to_a_thousandth_of_a_mm_and_a_millionth_of_a_second() -> None:
    """A third of a second is 0.333333, and the reach of a player has three decimals."""
    assert table()["figures"][0]["start_s"] == 0.333333
    # The number is worked out in test_verify_file.py from the shares in people.py.
    assert table()["players"][0]["reach_mm"] == 973.914


def test_the_example_comes_back_but_for_rounding() -> None:
    """Reading what was written gives the same objects, up to the decimals that are written."""
    back, first = from_json(table(), WHERE), example()
    assert (back.cast, back.uncast, back.chores, back.pedals) == (first.cast, first.uncast, first.chores, first.pedals)
    assert (back.proof, back.times, back.implements) == (first.proof, first.times, first.implements)
    assert replace(back.figures[0], start_s=0.0, strokes=back.figures[1].strokes) == replace(
        first.figures[0], start_s=0.0, strokes=back.figures[1].strokes
    )
    assert back.figures[0].start_s == pytest.approx(first.figures[0].start_s, abs=5e-7)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(any_castings())
def test_written_and_read_once_a_casting_never_changes_again(first: Casting) -> None:
    """The table of what was read is the table that was read, through text and back."""
    written = json.loads(json.dumps(to_json(first), allow_nan=False))
    back = from_json(written, WHERE)
    assert to_json(back) == written
    assert from_json(to_json(back), WHERE) == back


def _paths(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The way to every named field of the table, the first row of each list only."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield (*path, name)
            yield from _paths(inner, (*path, name))
    elif isinstance(value, list) and value:
        yield from _paths(value[0], (*path, 0))


FREE = {"made_from", "pick_s", "put_s"}
"""Tables whose names are the user's own: none of them can be missing."""


def _holder(root: Any, path: tuple[Any, ...]) -> Any:
    for step in path[:-1]:
        root = root[step]
    return root


LATER = {
    "loose",
    "dry",
    "weave",
    "thread",
    "threads",
    "written",
    "like",
    "changes",
    "pins",
    "feet",
    "needed_by",
    "rules",
    "mends",
}
LATER_IN = {
    ("chores", "implements"),
    ("chores", "contacts"),
    ("chores", "reason"),
    ("pedals", "keys"),
    ("uncast", "proved"),
}
"""Fields that came after the first castings were written: a file without them is read."""


def _came_later(path: tuple[Any, ...]) -> bool:
    return path[-1] in LATER or (path[0], path[-1]) in LATER_IN


@pytest.mark.parametrize("path", [p for p in _paths(table()) if _came_later(p)], ids=str)
def test_a_field_that_came_later_may_be_missing(path: tuple[Any, ...]) -> None:
    """An older casting is read with what it has."""
    older = copy.deepcopy(table())
    del _holder(older, path)[path[-1]]
    from_json(older, "x.json")


@pytest.mark.parametrize(
    "path", [p for p in _paths(table()) if (len(p) < 2 or p[-2] not in FREE) and not _came_later(p)], ids=str
)
def test_a_missing_field_is_named(path: tuple[Any, ...]) -> None:
    """Take any one field away and the error says which, and in which file."""
    broken = copy.deepcopy(table())
    del _holder(broken, path)[path[-1]]
    with pytest.raises(BadInput) as caught:
        from_json(broken, WHERE)
    assert str(caught.value).startswith(WHERE)
    assert str(path[-1]) in str(caught.value) or path[-1] in ("key", "spot", "keys")


@pytest.mark.parametrize("path", list(_paths(table())), ids=str)
def test_a_field_of_the_wrong_kind_is_refused(path: tuple[Any, ...]) -> None:
    """A table where text, a number or a list belongs is never read as one."""
    broken = copy.deepcopy(table())
    _holder(broken, path)[path[-1]] = {"": [math.inf]}
    with pytest.raises(BadInput) as caught:
        from_json(broken, WHERE)
    assert str(caught.value).startswith(WHERE)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("format",), "rimside-casting/2", "newer version"),
        (("format",), "rimside-casting/0", "no such version"),
        (("format",), "somebody-else/1", "not a casting"),
        (("figures", 0, "keys", 0), 89, "no such key"),
        (("figures", 0, "keys", 0), True, "whole number"),
        (("figures", 0, "technique"), "shout", "shout"),
        (("figures", 0, "touch"), {"k": 2, "n": 4}, "not a node"),
        (("figures", 0, "touch"), {"k": 3, "n": 3}, "not a node"),
        (("figures", 0, "end_s"), 0.0, "a figure must last"),
        (("figures", 0, "onsets_s"), [9.0], "not those of the strokes"),
        (("figures", 0, "beat"), "1/0", "fraction"),
        (("figures", 1, "keys"), [3], "not both"),
        (("cast", 0, "hands", 0), "third", "third"),
        (("cast", 0, "contacts", 0, "spot"), "frame, bass", "only one"),
        (("cast", 0, "contacts", 0, "role"), "hold", "hold"),
        (("proof", 0, "proved"), False, "otherwise"),
        (("proof", 0, "level"), "7 taste", "7 taste"),
        (("players", 0, "reach_mm"), math.nan, "must be a number"),
        (("pedals", 0, "pedal"), "swell", "swell"),
    ],
)
def test_a_value_that_cannot_be_is_refused(path: tuple[Any, ...], value: Any, said: str) -> None:
    """The error repeats what is wrong with the value."""
    broken = copy.deepcopy(table())
    _holder(broken, path)[path[-1]] = value
    with pytest.raises(BadInput) as caught:
        from_json(broken, WHERE)
    assert said in str(caught.value)


def test_a_row_is_named_by_its_id() -> None:
    """People look for the id and not for the number of a row."""
    broken = table()
    broken["figures"][1]["start_s"] = "soon"
    with pytest.raises(BadInput, match=r"figures\[1\] \(f2\), start_s: this must be a number: 'soon'"):
        from_json(broken, WHERE)


def test_a_list_is_no_casting() -> None:
    """The top of the file must be a table."""
    with pytest.raises(BadInput, match="table of named fields"):
        from_json([], WHERE)  # type: ignore[arg-type]


def test_a_casting_with_a_number_that_is_not_finite_is_not_written() -> None:
    """JSON has no word for infinity, and nobody can walk it."""
    with pytest.raises(BadInput, match="not finite"):
        to_json(replace(example(), rim_length_mm=math.inf))
