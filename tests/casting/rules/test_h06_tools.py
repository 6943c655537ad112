"""H6: an implement fits its string, is in one hand at a time, and is taken from a rest in reach."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.rules.h06_tools import lacking, misfit
from rimside.kit import Kit
from rimside.score.model import Technique
from tests.casting.judging import world
from tests.casting.solving import solved, uncast_rules
from tests.casting.worlds import TOY_STOCK, World, figure, toy_kit, toy_piano, toy_player, toy_players


def with_count(kind: str, count: int, **changes: object) -> Kit:
    """The toy kit with another number of one kind."""
    stock = tuple(replace(s, count=count, **changes) if s.kind == kind else s for s in TOY_STOCK)  # type: ignore[arg-type]
    return toy_kit(stock)


def hammers(gap_s: float, second: Technique = Technique.WOOD_HAMMER) -> World:
    """One hammer; Ada strikes only with the felt end, Ben only with the wood end, one after the other."""
    players = (
        toy_player(0, skills=frozenset({Technique.FELT_HAMMER})),
        toy_player(1, skills=frozenset({Technique.WOOD_HAMMER})),
    )
    first = figure("A", Technique.FELT_HAMMER, (40,), 0.0, 2.0)
    then = figure("B", second, (50,), 2.0 + gap_s, 4.0 + gap_s)
    return world(first, then, players=players, kit=with_count("hammer", 1))


def test_holds_what_fits_and_is_there() -> None:
    """A bow on a plain string and a strip on a wound one are cast, each with its implement."""
    bow, strip = (
        figure("A", Technique.LINE_BOW, (40,), 0.0, 2.0),
        figure("B", Technique.FRICTION_STRIP, (15,), 0.0, 2.0),
    )
    casting = solved(world(bow, strip), depth=1)
    kinds = {tool.id: tool.kind for tool in casting.implements}
    assert {row.figure: [kinds[tool] for tool in row.implements] for row in casting.cast} == {
        "A": ["line"],
        "B": ["strip"],
    }


def test_broken_the_kit_has_none() -> None:
    """Without a hammer in the kit the figure is barred by H6."""
    casting = solved(world(figure("A", Technique.FELT_HAMMER, (40,), 0.0, 2.0), kit=with_count("hammer", 0)), depth=1)
    assert uncast_rules(casting) == [("A", "H6")]
    assert casting.uncast[0].reason == f"the kit holds no {Technique.FELT_HAMMER.value} for C4"


def test_edge_the_last_wound_course() -> None:
    """The toy's last wound course is key 20: a bow fits 21 and not 20, a strip 20 and not 21."""
    piano, kit = toy_piano(), toy_kit()
    fits = {
        (technique, key): misfit(figure("A", technique, (key,), 0.0, 1.0), kit.rows[technique], piano) is None
        for technique in (Technique.LINE_BOW, Technique.STICK_BOW, Technique.FRICTION_STRIP)
        for key in (20, 21)
    }
    assert [pair for pair, good in fits.items() if good] == [
        (Technique.LINE_BOW, 21),
        (Technique.STICK_BOW, 21),
        (Technique.FRICTION_STRIP, 20),
    ]


def test_edge_a_magnet_pulls_iron_and_not_brass() -> None:
    """A magnet drive fits steel and iron courses, wound or plain, and says of brass what is wrong."""
    driven = figure("A", Technique.MAGNET_DRIVE, (40,), 0.0, 1.0)
    said = {}
    for material in ("steel", "iron", "brass", "nylon"):
        toy = toy_piano(courses=tuple(replace(course, material=material) for course in toy_piano().courses))
        said[material] = misfit(driven, toy_kit().rows[Technique.MAGNET_DRIVE], toy)
    assert (said["steel"], said["iron"]) == (None, None)
    assert said["brass"] == "C4 is of brass, which no magnet pulls"
    assert said["nylon"] is not None


def test_edge_one_hammer_from_hand_to_hand() -> None:
    """Ada puts it back in 0.5 s and Ben takes it in 1 s: a gap of 1.5 s is enough and 1 ms less is not."""
    assert not solved(hammers(1.5), depth=1).uncast
    casting = solved(hammers(1.499), depth=1)
    assert [entry.rule for entry in casting.uncast] == ["H6"]


@pytest.mark.parametrize(("count", "uncast"), [(2, 0), (1, 1)])
def test_edge_as_many_as_sound_together(count: int, uncast: int) -> None:
    """Two strips at once need two strips."""
    strips = [figure(name, Technique.FRICTION_STRIP, (key,), 0.0, 4.0) for name, key in (("A", 8), ("B", 18))]
    assert len(solved(world(*strips, kit=with_count("strip", count)), depth=1).uncast) == uncast


def test_edge_a_line_lives_at_one_point_of_its_course() -> None:
    """Two figures on one course share the one bow of that pitch, so both are played at the same point."""
    bows = [figure(name, Technique.LINE_BOW, (40,), start, start + 2.0) for name, start in (("A", 0.0), ("B", 9.0))]
    first, second = solved(world(*bows), depth=1).cast
    assert first.implements == second.implements
    assert first.contacts == second.contacts


def test_lacking_says_how_many_it_takes() -> None:
    """Two in the hand and one in the kit; and a stick with one side for two courses at once."""
    both = figure("A", Technique.STICK_BOW, (40, 41), 0.0, 2.0)
    row = toy_kit().rows[Technique.STICK_BOW]
    assert lacking(both, row, with_count("stick", 1), 2, 1) == "it takes 2 and the kit holds 1"
    assert lacking(both, row, with_count("stick", 2), 2, 1) is None
    assert lacking(both, row, with_count("stick", 2, sides=1), 1, 2) is not None
    assert lacking(both, row, with_count("stick", 2, sides=2), 1, 2) is None


def test_a_rest_is_in_reach_from_the_place() -> None:
    """Every cast implement's rest lies within the player's full reach of the place, by hand-made measure."""
    figures = [figure(f"F{key}", Technique.FELT_HAMMER, (key,), 3.0 * key, 3.0 * key + 2.0) for key in range(1, 80, 11)]
    where = world(*figures, players=toy_players(2))
    casting = solved(where, depth=1)
    places = {place.id: place.at for place in casting.places}
    tools = {tool.id: tool for tool in casting.implements}
    assert not casting.uncast
    for row in casting.cast:
        tool = tools[row.implements[0]]
        dx, dy = tool.rest_x_mm - places[row.place].x_mm, tool.rest_y_mm - places[row.place].y_mm
        assert (dx * dx + dy * dy) ** 0.5 <= casting.players[0].reach_mm
