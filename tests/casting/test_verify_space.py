"""H3 reach, H5 room and H7 clear strings: three tests each, and what they say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rimside.casting.result import CastFigure, Contact
from rimside.kit import HAND_CLEARANCE_MM, OWN_HANDS_CLEARANCE_MM
from rimside.people import LEAN_LIMIT_S
from rimside.piano.model import Piano, Place, Point, Strut
from rimside.pitch import Key
from rimside.score.model import Figure, Mute, Technique, Touch
from tests.casting.judging import BASS, BASS_2, KEYBOARD, TREBLE, broken, cast, judged, world
from tests.casting.worlds import figure, on_course, play, tool, toy_course, toy_piano, toy_players

PIANO = toy_piano()
PLUCK = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)


def at_distance(piano: Piano, key: int, at_mm: float, distance_mm: float) -> Piano:
    """The same piano with one more place, "x", straight to the bass side of a contact."""
    point = piano.course(Key(key)).at(at_mm)
    place = Place(
        id="x",
        at=Point(x_mm=point.x_mm - distance_mm, y_mm=point.y_mm),
        heading_deg=0.0,
        along_rim_mm=8000.0,
        at_keyboard=False,
    )
    return replace(piano, places=(*piano.places, place))


def reach_breaks(distance_mm: float, lasts_s: float, measured: tuple[float, float] = (600.0, 800.0)) -> set[str]:
    """What breaks when a player with a measured reach plucks key 24 from this far."""
    piano = at_distance(PIANO, 24, 300.0, distance_mm)
    pluck = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 1.0 + lasts_s)
    where = world(pluck, piano=piano, players=toy_players(1, measured_reach_mm=measured))
    return broken(where, [play(piano, pluck, "ada", "x")])


# H3.


def test_h3_holds_within_comfortable_reach_for_any_length() -> None:
    """What lies near can be played for minutes."""
    assert reach_breaks(550.0, 300.0) == set()


def test_h3_broken_beyond_full_reach() -> None:
    """The message says how far the player reaches and how far it is."""
    piano = at_distance(PIANO, 24, 300.0, 820.0)
    where = world(PLUCK, piano=piano, players=toy_players(1, measured_reach_mm=(600.0, 800.0)))
    breaches = judged(where, cast(where, [play(piano, PLUCK, "ada", "x")]))
    assert [b.rule for b in breaches] == ["H3"]
    assert "Ada reaches 800.0 mm" in breaches[0].message and "820.0 mm away" in breaches[0].message


@pytest.mark.parametrize(("distance_mm", "breaks"), [(800.0, False), (800.4, False), (800.6, True)])
def test_h3_edge_full_reach_itself_is_within_reach(distance_mm: float, breaks: bool) -> None:
    """At full reach exactly (and half a mm more, which no tape can tell) the hand arrives."""
    assert reach_breaks(distance_mm, 2.0) == ({"H3"} if breaks else set())


@pytest.mark.parametrize(
    ("distance_mm", "lasts_s", "breaks"),
    [
        (600.0, LEAN_LIMIT_S + 30.0, False),
        (700.0, LEAN_LIMIT_S, False),
        (700.0, LEAN_LIMIT_S + 0.001, True),
        (700.0, 10.0, False),
    ],
)
def test_h3_a_lean_is_limited_in_time(distance_mm: float, lasts_s: float, breaks: bool) -> None:
    """Beyond comfortable reach a figure may last the limit and not a ms longer."""
    assert reach_breaks(distance_mm, lasts_s) == ({"H3"} if breaks else set())


STRUCK = figure("f1", Technique.FELT_HAMMER, [24], 1.0, 3.0)
"""Key 24 of the toy: 745.1 mm long, its felt from 74.5 to 114.5, strut 2 over y = 1185 to 1215, so 685 to 715 mm.
A hammer covers 15 mm to both sides and keeps 15 mm from the near and 30 mm from the far end."""


@pytest.mark.parametrize(
    ("at_mm", "what"),
    [
        (300.0, None),
        (14.0, "nearer than 15 mm to the near end"),
        (14.6, None),
        (59.5, None),
        (60.5, "damper felt"),
        (95.0, "damper felt"),
        (128.5, "damper felt"),
        (129.5, None),
        (669.6, None),
        (671.0, "strut 2"),
        (700.0, "strut 2"),
        (716.0, "nearer than 30 mm to the far end"),
    ],
)
def test_h3_edge_of_every_obstacle(at_mm: float, what: str | None) -> None:
    """Ends, felt and strut: just inside the open window holds, just outside breaks and says what is in the way."""
    hammer = tool("hammer")
    where = world(STRUCK)
    breaches = judged(where, cast(where, [play(PIANO, STRUCK, "ada", BASS, at_mm, tools=[hammer])], [hammer]))
    assert [b.rule for b in breaches] == ([] if what is None else ["H3"])
    assert what is None or what in breaches[0].message


def test_h3_a_window_counts_in_shares_of_the_length() -> None:
    """A technique for the far half of the string only is not played on the near half."""
    kit_world = world(STRUCK)
    row = kit_world.kit.rows[Technique.FELT_HAMMER]
    half = replace(row, window=replace(row.window, from_share=0.5))
    kit = replace(kit_world.kit, rows={**kit_world.kit.rows, Technique.FELT_HAMMER: half})
    hammer = tool("hammer")
    for at_mm, breaks in ((372.0, True), (372.3, False), (373.0, False)):
        rows = [play(PIANO, STRUCK, "ada", BASS, at_mm, tools=[hammer])]
        assert broken(world(STRUCK, kit=kit), rows, [hammer]) == ({"H3"} if breaks else set())


def test_h3_a_slanting_strut_hides_what_it_crosses() -> None:
    """A band at 45 degrees and 20 mm wide hides 28.3 mm of a course, and the hammer 15 mm to both sides."""
    strut = Strut(name="slant", start=Point(x_mm=129.0, y_mm=600.0), end=Point(x_mm=529.0, y_mm=1000.0), width_mm=20.0)
    piano = toy_piano(struts=(strut,))  # crosses key 24 (x = 329) at y = 800, 300 mm from the near end
    hammer = tool("hammer")
    for at_mm, breaks in ((270.0, False), (272.0, True), (300.0, True), (328.0, True), (330.0, False)):
        rows = [play(piano, STRUCK, "ada", BASS, at_mm, tools=[hammer])]
        assert broken(world(STRUCK, piano=piano), rows, [hammer]) == ({"H3"} if breaks else set())


def test_h3_no_hand_gets_through_strings_that_pass_over() -> None:
    """A higher section crosses at 300 mm: nothing is played there, 25 mm and half a tool further to both sides."""
    over = [
        toy_course(
            key,
            near=Point(x_mm=100.0, y_mm=y_mm),
            far=Point(x_mm=100.0 + 877.4, y_mm=y_mm),
            height_mm=970.0,
            length_mm=877.4,
            section="overstrung",
            wrap_mm=None,
            strings=1,
            wire_mm=2.0,
        )
        for key, y_mm in ((1, 790.0), (2, 810.0))
    ]
    piano = toy_piano(courses=(*over, *PIANO.courses[2:]))
    # Wires from 289 to 311 mm; free again from 289 - 25 - 15 = 249 and 311 + 25 + 15 = 351.
    hammer = tool("hammer")
    for at_mm, breaks in ((249.0, False), (250.0, True), (300.0, True), (350.0, True), (351.0, False)):
        where = world(STRUCK, piano=piano, players=toy_players(1, measured_reach_mm=(900.0, 900.0)))
        rows = [play(piano, STRUCK, "ada", BASS, at_mm, tools=[hammer])]
        assert broken(where, rows, [hammer]) == ({"H3"} if breaks else set())


@pytest.mark.parametrize(("off_mm", "breaks"), [(0.0, False), (0.4, False), (0.6, True), (-0.6, True)])
def test_h3_edge_a_touch_is_at_its_node(off_mm: float, breaks: bool) -> None:
    """The finger is at k/n of the length, to half a mm."""
    touched = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, touch=Touch(k=1, n=3))
    row = play(PIANO, touched, "ada", BASS, 400.0, hands=("left", "right"))
    finger = on_course(PIANO, 24, PIANO.course(Key(24)).length_mm / 3.0 + off_mm, "touch")
    moved = replace(row, contacts=(row.contacts[0], finger))
    assert broken(world(touched), [moved]) == ({"H3"} if breaks else set())


def test_h3_no_finger_under_the_felt() -> None:
    """Node 1/8 of key 24 lies at 93.1 mm, under its damper felt."""
    touched = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, touch=Touch(k=1, n=8))
    assert broken(world(touched), [play(PIANO, touched, "ada", BASS, 400.0, hands=("left", "right"))]) == {"H3"}


def test_h3_a_finger_mute_needs_an_open_string() -> None:
    """The muting finger keeps to the window as the playing hand does."""
    muted = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, mute=Mute.FINGER)
    row = play(PIANO, muted, "ada", BASS, 400.0, hands=("left", "right"))
    assert broken(world(muted), [row]) == set()
    under = replace(row, contacts=(row.contacts[0], on_course(PIANO, 24, 95.0, "mute")))
    assert broken(world(muted), [under]) == {"H3"}


@pytest.mark.parametrize("keep", [(), (1,), (0, 0), (0, 1)])
def test_h3_every_course_is_met_and_no_other(keep: tuple[int, ...]) -> None:
    """Leaving out a contact, or adding one that the figure does not ask for, is found."""
    row = play(PIANO, PLUCK, "ada", BASS)
    stray = on_course(PIANO, 25, 300.0)
    contacts = tuple((row.contacts[0], stray)[index] for index in keep)
    expected = set() if keep == (0, 0) else {"H3"}
    assert broken(world(PLUCK), [replace(row, contacts=contacts)]) == expected


def test_h3_a_course_is_touched_only_when_the_figure_says_so() -> None:
    """A touch that nobody wrote would change the pitch."""
    row = play(PIANO, PLUCK, "ada", BASS)
    touched = replace(row, contacts=(*row.contacts, on_course(PIANO, 24, 372.6, "touch")))
    assert broken(world(PLUCK), [touched]) == {"H3"}


KEYED = figure("f1", Technique.KEYS, [24], 1.0, 3.0)


def test_h3_keys_are_played_from_the_keyboard_and_on_the_keys() -> None:
    """Neither from the side nor on the string, and a string is not played without saying where."""
    assert broken(world(KEYED), [play(PIANO, KEYED, "ada", KEYBOARD)]) == set()
    assert broken(world(KEYED), [play(PIANO, KEYED, "ada", "p00")]) == {"H3"}
    on_string = replace(play(PIANO, KEYED, "ada", KEYBOARD), contacts=(on_course(PIANO, 24, 20.0),))
    assert broken(world(KEYED), [on_string]) == {"H3"}
    nowhere = Contact(key=Key(24), spot=None, x_mm=329.0, y_mm=50.0, from_near_end_mm=None)
    assert broken(world(PLUCK), [replace(play(PIANO, PLUCK, "ada", KEYBOARD), contacts=(nowhere,))]) == {"H3"}


# H5.


def standing(apart_mm: float, along_mm: float, second_start_s: float = 2.0) -> set[str]:
    """Two 500 mm wide players at two places so far apart, straight and along the rim."""
    places = (
        Place(id="a", at=Point(x_mm=-250.0, y_mm=600.0), heading_deg=0.0, along_rim_mm=8000.0, at_keyboard=False),
        Place(
            id="b",
            at=Point(x_mm=-250.0, y_mm=600.0 + apart_mm),
            heading_deg=0.0,
            along_rim_mm=8000.0 - along_mm,
            at_keyboard=False,
        ),
    )
    piano = toy_piano(places=places)
    first = figure("f1", Technique.FINGER_PLUCK, [9], 1.0, 3.0)
    second = figure("f2", Technique.FINGER_PLUCK, [12], second_start_s, second_start_s + 2.0)
    rows = [play(piano, first, "ada", "a", 200.0), play(piano, second, "ben", "b", 600.0)]
    players = toy_players(2, measured_breadth_mm=500.0, measured_reach_mm=(900.0, 1000.0))
    return broken(world(first, second, piano=piano, players=players), rows)


def test_h5_holds_with_a_pace_between_two_bodies() -> None:
    """A metre is room enough for two pairs of shoulders."""
    assert standing(1000.0, 1000.0) == set()


def test_h5_broken_when_shoulders_meet() -> None:
    """Half a metre wide, 400 mm apart: no."""
    assert standing(400.0, 400.0) == {"H5"}


@pytest.mark.parametrize(
    ("apart_mm", "along_mm", "breaks"),
    [(500.0, 500.0, False), (499.6, 600.0, False), (499.4, 600.0, True), (600.0, 499.4, True), (600.0, 499.6, False)],
)
def test_h5_edge_straight_and_along_the_rim(apart_mm: float, along_mm: float, breaks: bool) -> None:
    """Half the sum of the breadths is enough, and it must be there both straight and along the rim."""
    assert standing(apart_mm, along_mm) == ({"H5"} if breaks else set())


@pytest.mark.parametrize(("second_start_s", "breaks"), [(3.2, False), (3.199, True), (0.0, True)])
def test_h5_edge_a_player_arrives_to_settle(second_start_s: float, breaks: bool) -> None:
    """The toy player stands 0.2 s before the first stroke: by then the other must have stepped back."""
    assert standing(400.0, 400.0, second_start_s) == ({"H5"} if breaks else set())


def test_h5_counts_the_shorter_way_round() -> None:
    """Places at the two ends of the walking line are neighbours: 8700 and 100 mm along 8817.6 are 217.6 mm apart."""
    places = (
        Place(id="a", at=Point(x_mm=-250.0, y_mm=600.0), heading_deg=0.0, along_rim_mm=8700.0, at_keyboard=False),
        Place(id="b", at=Point(x_mm=-250.0, y_mm=1200.0), heading_deg=0.0, along_rim_mm=100.0, at_keyboard=False),
    )
    piano = toy_piano(places=places)
    first = figure("f1", Technique.FINGER_PLUCK, [9], 1.0, 3.0)
    second = figure("f2", Technique.FINGER_PLUCK, [12], 1.0, 3.0)
    where = world(first, second, piano=piano)
    rows = [play(piano, first, "ada", "a", 200.0), play(piano, second, "ben", "b", 600.0)]
    breaches = judged(where, cast(where, rows))
    assert [b.rule for b in breaches] == ["H5"]
    assert "217.6 mm" in breaches[0].message and "494.7 mm" in breaches[0].message


# H7.


def two_hands(
    apart_mm: float, *, same_player: bool, second: Figure | None = None
) -> tuple[tuple[Figure, Figure], list[CastFigure]]:
    """Two overlapping figures on keys 24 and 25 (14 mm apart) whose contacts are so far apart along the strings."""
    first = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0)
    other = second or figure("f2", Technique.FINGER_PLUCK, [25], 2.0, 4.0)
    along_mm = (apart_mm**2 - 14.0**2) ** 0.5
    rows = [
        play(PIANO, first, "ada", BASS_2, 200.0),
        play(PIANO, other, "ada", BASS_2, 200.0 + along_mm, hands=("right",))
        if same_player
        else play(PIANO, other, "ben", TREBLE, 200.0 + along_mm),
    ]
    return (first, other), rows


REACHING = toy_players(2, measured_reach_mm=(1500.0, 1600.0))


def test_h7_holds_when_hands_are_well_apart() -> None:
    """A third of a metre is enough for anyone."""
    for same in (True, False):
        figures, rows = two_hands(333.0, same_player=same)
        assert broken(world(*figures, players=REACHING), rows) == set()


def test_h7_broken_when_hands_collide() -> None:
    """Two hands 20 mm apart would hit each other, whoever they belong to."""
    for same, said in ((True, "Ada's own hands need 45 mm"), (False, "Ada's and Ben's hands need 96 mm")):
        figures, rows = two_hands(20.0, same_player=same)
        where = world(*figures, players=REACHING)
        breaches = judged(where, cast(where, rows))
        assert [b.rule for b in breaches] == ["H7"]
        assert said in breaches[0].message and "20.0 mm" in breaches[0].message


@pytest.mark.parametrize(("same", "limit_mm"), [(True, OWN_HANDS_CLEARANCE_MM), (False, HAND_CLEARANCE_MM)])
def test_h7_edge_the_clearance_itself_is_enough(same: bool, limit_mm: float) -> None:
    """At the clearance they pass; a mm nearer they do not."""
    for apart_mm, breaks in ((limit_mm, False), (limit_mm - 1.0, True)):
        figures, rows = two_hands(apart_mm, same_player=same)
        assert broken(world(*figures, players=REACHING), rows) == ({"H7"} if breaks else set())


def test_h7_one_course_carries_one_figure_at_a_time() -> None:
    """Two players 400 mm apart on the same string still spoil each other's sound; one after the other is fine."""
    second = figure("f2", Technique.FINGER_PLUCK, [24], 2.0, 4.0)
    rows = [play(PIANO, PLUCK, "ada", BASS_2, 150.0), play(PIANO, second, "ben", TREBLE, 550.0)]
    assert broken(world(PLUCK, second, players=REACHING), rows) == {"H7"}
    later = replace(second, start_s=3.0)
    assert broken(world(PLUCK, later, players=REACHING), rows) == set()


def test_h7_threads_of_one_weave_share_a_course_but_keep_their_hands_apart() -> None:
    """Two players interlock on one course, their hands a clearance apart and not 1 mm nearer."""
    first, second = (replace(PLUCK, id=name, weave="f1", thread=n, threads=2) for n, name in ((1, "f1"), (2, "f2")))
    for apart_mm, breaks in ((HAND_CLEARANCE_MM, False), (HAND_CLEARANCE_MM - 1.0, True)):
        rows = [play(PIANO, first, "ada", BASS_2, 200.0), play(PIANO, second, "ben", TREBLE, 200.0 + apart_mm)]
        assert broken(world(first, second, players=REACHING), rows) == ({"H7"} if breaks else set())


def test_h7_one_spot_carries_one_figure_at_a_time() -> None:
    """Two beaters at one spot meet."""
    first = figure("f1", Technique.BEATER, "frame, bass", 1.0, 3.0)
    second = figure("f2", Technique.BEATER, "frame, bass", 2.0, 4.0)
    near, far = tool("beater", 1, -20.0, 2400.0), tool("beater", 2, 168.0, 2520.0)
    rows = [play(PIANO, first, "ada", "p14", tools=[near]), play(PIANO, second, "ben", "p12", tools=[far])]
    where = world(first, second)
    assert broken(where, rows, [near, far]) == {"H7"}


def test_h7_looks_at_touching_and_muting_fingers_too() -> None:
    """Ben's hand collides with the finger that Ada keeps at a node, not with the hand that plucks."""
    touched = figure("f1", Technique.FINGER_PLUCK, [24], 1.0, 3.0, touch=Touch(k=1, n=2))
    other = figure("f2", Technique.FINGER_PLUCK, [25], 1.0, 3.0)
    for at_mm, breaks in ((372.0, True), (520.0, False)):
        rows = [
            play(PIANO, touched, "ada", BASS_2, 150.0, hands=("left", "right")),
            play(PIANO, other, "ben", TREBLE, at_mm),
        ]
        assert broken(world(touched, other, players=REACHING), rows) == ({"H7"} if breaks else set())
