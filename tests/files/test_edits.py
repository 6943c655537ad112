"""Changes inside TOML files, and the forms that are drawn for them."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from rimside.errors import BadInput
from rimside.files import project, scaffold
from rimside.files.edits import Edit, checked, edited
from rimside.files.forms import Field, form_of, way_of

TEXT = b"""# people, by hand
format = "x/1"   # of this file

[[player]]
name = "Mo"      # tall
size = 3

[[player]]
name = "Bo"
"""


def test_a_change_leaves_the_rest_as_it_is() -> None:
    """One value changes; every other line, comments and blanks among them, stays."""
    after = edited(TEXT, [Edit(do="set", way=("player", 0, "size"), value=4)], "x")
    assert after == TEXT.replace(b"size = 3", b"size = 4")


def test_entries_come_and_go() -> None:
    """An entry is added at the end, with a blank line before it, and taken away again."""
    after = edited(TEXT, [Edit(do="add", way=("player",), value={"name": "Jo"})], "x")
    assert [row["name"] for row in tomllib.loads(after.decode())["player"]] == ["Mo", "Bo", "Jo"]
    assert b'\n\n[[player]]\nname = "Jo"' in after
    again = edited(after, [Edit(do="remove", way=("player", 2))], "x")
    assert tomllib.loads(again.decode()) == tomllib.loads(TEXT.decode())
    assert again.startswith(TEXT.rstrip())


def test_tables_and_lists_are_made_where_they_are_missing() -> None:
    """A value in a table that is not there yet, and the first entry of a list."""
    after = edited(
        b"", [Edit(do="set", way=("times", "turn_s"), value=1.5), Edit(do="add", way=("read",), value="a")], "x"
    )
    assert tomllib.loads(after.decode()) == {"times": {"turn_s": 1.5}, "read": ["a"]}


@pytest.mark.parametrize("way", [("player", 7), ("player", 0, "none"), ("nobody", 0), ("format", "x")])
def test_what_is_not_there_cannot_be_taken_away(way: tuple[str | int, ...]) -> None:
    """An entry that somebody else took away is told, not guessed."""
    with pytest.raises(BadInput, match="no such entry"):
        edited(TEXT, [Edit(do="remove", way=way)], "x")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> project.Production:
    """A fresh production."""
    folder = tmp_path_factory.mktemp("edits") / "p"
    scaffold.new(str(folder))
    return project.load(folder)


def test_every_file_of_a_fresh_production_is_good(made: project.Production) -> None:
    """Each input is read as the production reads it."""
    for name, data in made.inputs.items():
        assert checked(made, name, data)


@pytest.mark.parametrize(
    ("name", "edit", "way"),
    [
        (project.ENSEMBLE, Edit(do="set", way=("player", 1, "stature_mm"), value=1.7), ("player", 1, "stature_mm")),
        (project.ENSEMBLE, Edit(do="set", way=("player", 0, "skills"), value=["bowl"]), ("player", 0, "skills")),
        (project.ENSEMBLE, Edit(do="set", way=("player", 1, "sign"), value=""), ("player", 1, "sign")),
        (project.KIT, Edit(do="set", way=("implement", 0, "count"), value=-1), ("implement", 0, "count")),
        (project.KIT, Edit(do="set", way=("times",), value={"turn_s": 900.0}), ("times", "turn_s")),
        (project.PRODUCTION, Edit(do="set", way=("seconds",), value=0), ("seconds",)),
    ],
)  # fmt: skip
def test_a_slip_is_found_in_the_file(
    made: project.Production, name: str, edit: Edit, way: tuple[str | int, ...]
) -> None:
    """What is wrong is told with its place, so that a page can put the words beside the field."""
    data = edited(made.inputs[name], [edit], name)
    with pytest.raises(BadInput) as told:
        checked(made, name, data)
    assert way_of(told.value, tomllib.loads(data.decode())) == way


def test_forms_know_kind_unit_and_bounds() -> None:
    """Read off the schema: a breadth in mm from 250 to 800, a choice, lists of texts and of tables."""
    (player,) = form_of(project.ENSEMBLE)
    inside = {field.name: field for field in player.inside}
    assert player.kind == "tables" and player.needed
    breadth = inside["shoulder_breadth_mm"]
    assert (breadth.kind, breadth.unit, breadth.least, breadth.most) == ("number", "mm", 250.0, 800.0)
    assert inside["colour_vision"].choices == ("full", "protan", "deutan", "tritan", "none")
    assert inside["skills"].kind == "texts" and not inside["skills"].needed


def shown(fields: tuple[Field, ...], table: dict[str, object]) -> list[str]:
    """The keys of a table that no field is for."""
    names = {field.name for field in fields}
    return [key for key in table if key not in names and key != "format"]


def test_every_key_of_every_file_has_a_field(made: project.Production) -> None:
    """Nothing that a person can write is missing from its form."""
    folder = Path(made.folder)
    for name in (project.PRODUCTION, project.ENSEMBLE, project.KIT, *(f"pianos/{p}.toml" for p in made.facts.pianos)):
        table = tomllib.loads((folder / name).read_text("utf-8"))
        fields = form_of(name)
        assert shown(fields, table) == []
        for field in fields:
            for entry in table.get(field.name, []) if field.kind == "tables" else []:
                assert shown(field.inside, entry) == []
