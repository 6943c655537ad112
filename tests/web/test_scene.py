"""What the piano view is told of a casting."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rimside.files import project
from rimside.web.desk import Desk
from rimside.web.house import Asked, House
from rimside.web.inside_page import scene_of
from rimside.web.scene import still


@pytest.fixture(scope="module")
def asked(production: Path) -> Asked:
    """The small production's casting."""
    desk = Desk(production)
    files = desk.production()
    return Asked(desk, "", files, desk.name(files, None))


@pytest.fixture(scope="module")
def scene(asked: Asked) -> dict[str, Any]:
    """Its scene."""
    return scene_of(asked)


@pytest.fixture(scope="module")
def plain(asked: Asked) -> dict[str, Any]:
    """The casting as its file has it."""
    table: dict[str, Any] = json.loads(project.casting_path(asked.production, asked.name).read_text("utf-8"))
    return table


def test_every_figure_is_told_with_its_player(scene: dict[str, Any], plain: dict[str, Any]) -> None:
    """Figures, players, places, hands and contact points are those of the casting file."""
    cast = {row["figure"]: row for row in plain["cast"]}
    told = {row["id"]: row for row in scene["figures"]}
    assert told.keys() == {row["id"] for row in plain["figures"]}
    for figure, row in cast.items():
        mine = told[figure]
        assert (mine["player"], mine["place"], mine["hands"]) == (row["player"], row["place"], row["hands"])
        assert [(x, y) for _, x, y, _ in mine["contacts"]] == [(c["x_mm"], c["y_mm"]) for c in row["contacts"]]


def test_every_stay_has_a_place_and_goes_forward(scene: dict[str, Any], plain: dict[str, Any]) -> None:
    """Whoever plays or does a chore is told to be somewhere, from picking up to putting down."""
    stays = [stay for player in scene["players"] for stay in player["stays"]]
    done = [chore for chore in plain["chores"] if chore["player"] and chore["place"]]
    assert len(stays) == len(plain["cast"]) + len(done)
    for stay in stays:
        assert stay["from"] <= stay["start"] <= stay["end"] <= stay["until"]
        assert stay["place"] in scene["places"]


def test_hands_go_to_the_contact_points_and_nowhere_else(scene: dict[str, Any], plain: dict[str, Any]) -> None:
    """The points of all hands of a figure are its contact points; each hand that is named has one."""
    cast = {row["figure"]: row for row in plain["cast"]}
    for stay in (stay for player in scene["players"] for stay in player["stays"] if stay["kind"] == "figure"):
        points = {(x, y) for rows in stay["hands"].values() for _, x, y, _ in rows}
        assert points == {(c["x_mm"], c["y_mm"]) for c in cast[stay["id"]]["contacts"]}
        assert set(stay["hands"]) == set(cast[stay["id"]]["hands"])


def test_the_walking_line_passes_through_the_places(scene: dict[str, Any]) -> None:
    """A place lies on the line that people walk, at its own distance along it (to a step of the line)."""
    for x, y, _, along in scene["places"].values():
        near = min(scene["rim"], key=lambda row: abs(row[0] - along))
        assert ((near[1] - x) ** 2 + (near[2] - y) ** 2) ** 0.5 <= 60.0


def test_the_time_line_counts_who_plays(scene: dict[str, Any]) -> None:
    """At each step as many people are told as have a figure then."""
    for step, count in enumerate(scene["busy"]):
        at = 2.0 * step
        playing = {
            f["player"] for f in scene["figures"] if f.get("player") and f["start"] < at + 2.0 and f["end"] >= at
        }
        assert count == len(playing)


def test_the_still_drawing_has_every_string(asked: Asked) -> None:
    """As many lines of steel or copper as the piano has strings; no words, nothing that the page's policy forbids."""
    piano = asked.desk.material(asked.production, asked.name).piano
    drawn = still(piano)
    strings = sum(course.strings for course in piano.courses)
    wound = sum(course.strings for course in piano.courses if course.wound)
    assert drawn.count('stroke="#5B5F60"') + drawn.count('stroke="#8F4A22"') == strings
    assert drawn.count('stroke="#8F4A22"') == wound
    assert "<text" not in drawn
    assert "style=" not in drawn


def test_what_was_read_is_kept_until_a_file_changes(folder: Path) -> None:
    """The same files are read once; a change by hand shows at the next look."""
    desk = Desk(folder)
    first = desk.production()
    name = desk.name(first, None)
    assert desk.material(first, name) is desk.material(desk.production(), name)
    path = folder / "production.toml"
    text = path.read_text("utf-8")
    line = next(line for line in text.splitlines() if line.startswith("title"))
    path.write_text(text.replace(line, 'title = "Another"'), "utf-8")
    assert desk.material(desk.production(), name).title == "Another"


def test_a_desk_is_opened_once(folder: Path) -> None:
    """The house keeps one desk for the production and one for each variant."""
    house = House(root=folder)
    assert house.desk() is house.desk()
