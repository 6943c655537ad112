"""Changes inside TOML files, and the forms that are drawn for them."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from rimside.errors import BadInput
from rimside.files import project, scaffold
from rimside.files.edits import Edit, Way, carried, checked, edited
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


@pytest.mark.parametrize(
    "edit",
    [
        Edit(do="set", way=("format", "x"), value=1),
        Edit(do="add", way=("format",), value={"a": 1}),
        Edit(do="add", way=("format", "x"), value="a"),
        Edit(do="remove", way=("player", -1)),
        Edit(do="set", way=("player", "x"), value=1),
        Edit(do="set", way=("player", 0, "size"), value=None),
        Edit(do="set", way=("player", 0, "size"), value=float("nan")),
    ],
)
def test_what_cannot_be_done_is_told(edit: Edit) -> None:
    """A place that cannot hold the value, and a value that TOML has no word for, are slips in words."""
    with pytest.raises(BadInput, match=r"^x, "):
        edited(TEXT, [edit], "x")


def test_edits_find_their_entry_again() -> None:
    """Somebody has added and taken out entries meanwhile: an edit goes to the one that it was of, or is refused."""
    seen = b'[[player]]\nname = "Mo"\nsize = 3\n\n[[player]]\nname = "Bo"\n\n[[player]]\nname = "Jo"\n'
    now = b'[[player]]\nname = "Zo"\n\n[[player]]\nname = "Jo"\n\n[[player]]\nname = "Mo"\nsize = 9\n'
    mine = [
        Edit(do="set", way=("player", 0, "size"), value=4),
        Edit(do="remove", way=("player", 2)),
        Edit(do="add", way=("player",), value={"name": "Ko"}),
    ]
    after = tomllib.loads(edited(now, carried(mine, seen, now, "x"), "x").decode())
    assert after == {"player": [{"name": "Zo"}, {"name": "Mo", "size": 4}, {"name": "Ko"}]}
    with pytest.raises(BadInput, match="no such entry"):
        carried([Edit(do="set", way=("player", 1, "size"), value=1)], seen, now, "x")


def test_several_entries_are_taken_out_of_a_list_that_was_turned_round() -> None:
    """Each is found, and none is taken out in place of another."""
    seen = b'[[p]]\nname = "a"\n[[p]]\nname = "b"\n[[p]]\nname = "c"\n[[p]]\nname = "d"\n'
    now = b'[[p]]\nname = "d"\n[[p]]\nname = "c"\n[[p]]\nname = "b"\n[[p]]\nname = "a"\n'
    mine = [Edit(do="remove", way=("p", 3)), Edit(do="remove", way=("p", 0)), Edit(do="remove", way=("p", 1))]
    assert tomllib.loads(edited(now, carried(mine, seen, now, "x"), "x").decode()) == {"p": [{"name": "c"}]}


TRICKY = b"""title = "x" # said so
nums = [1,
  2, # two
]
rows = [{a = 1, b = "x"}, {a = 2}]
dot.one = 1
dot.two.three = 2
[times]
a = 1
[times.inner]
b = 2
[[p]]
n = 1
[p.sub]
z = 1
[[p.more]]
q = 1
[[p.more]]
q = 2
[[p]]
n = 2
"""


def ways(at: object, way: Way = ()) -> Iterator[tuple[Way, object]]:
    """Every place in a table, and what is there."""
    steps = at.items() if isinstance(at, dict) else enumerate(at) if isinstance(at, list) else ()
    for step, inner in steps:
        yield (*way, step), inner
        yield from ways(inner, (*way, step))


def some_edit(draw: random.Random, table: dict[str, object]) -> Edit:
    """Any edit that makes sense for a table."""
    found = list(ways(table))
    tables = [(), *(way for way, at in found if isinstance(at, dict))]
    lists = [way for way, at in found if isinstance(at, list) and at and isinstance(at[0], dict)]
    value = draw.choice(['with "q"\n', 5, -2.5, True, ["a", "b"], [[1.0, 2.0], [3.0, 4.0]], []])
    entry = {"name": "new", "list": ["a"], "deep": {"x": 1}, "rows": [{"y": 1}, {"y": 2}]}
    kind = draw.choice(["set", "remove", "key", "table", "entry", "list"])
    leaves = [way for way, at in found if not isinstance(at, dict)]
    if kind == "set" and leaves:
        return Edit(do="set", way=draw.choice(leaves), value=value)
    if kind == "remove" and found:
        return Edit(do="remove", way=draw.choice(found)[0])
    if kind == "entry" and lists:
        return Edit(do="add", way=draw.choice(lists), value=entry)
    if kind == "list":
        return Edit(do="add", way=(*draw.choice(tables), "newlist"), value=draw.choice([entry, "a"]))
    return Edit(do="set", way=(*draw.choice(tables), *(("new", "x") if kind == "table" else ("new",))), value=value)


def plainly(table: Any, edit: Edit) -> None:
    """The same edit of a plain table, written here once more."""
    *path, last = edit.way
    for step in path:
        table = table.setdefault(step, {}) if isinstance(table, dict) else table[step]
    if edit.do == "set":
        table[last] = edit.value
    elif edit.do == "add":
        table.setdefault(last, []).append(edit.value)
    else:
        del table[last]


def edit_many_times(texts: dict[str, bytes], times: int, seed: int) -> None:
    """Random edits: the file says afterwards what a plain table says, with every comment outside it as it was."""
    draw, refused = random.Random(seed), 0
    for _ in range(times):
        name = draw.choice(sorted(texts))
        table = tomllib.loads(texts[name].decode())
        edit = some_edit(draw, table)
        plainly(table, edit)
        try:
            after = edited(texts[name], [edit], name)
        except BadInput as slip:
            assert "as text" in str(slip)
            refused += 1
            continue
        assert tomllib.loads(after.decode()) == table
        if edit.do == "add" or edit.way[-1] in ("new", "x"):
            assert after.count(b"#") >= texts[name].count(b"#")
    assert refused <= times // 25


def test_any_edit_of_any_file_says_what_was_meant(made: project.Production) -> None:
    """Sixty edits at random places of all files of a production, and of one written in every manner of TOML."""
    edit_many_times({**texts_of(made), "tricky": TRICKY}, 60, 1)


@pytest.mark.soak
def test_three_thousand_edits_say_what_was_meant(made: project.Production) -> None:
    """The same for long, at other places every time."""
    edit_many_times({**texts_of(made), "tricky": TRICKY}, 3000, random.randrange(1_000_000))


def texts_of(made: project.Production) -> dict[str, bytes]:
    """The TOML files of a production."""
    return {name: data for name, data in made.inputs.items() if name.endswith(".toml")}


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


def slips(fields: tuple[Field, ...], table: Any, way: Way = ()) -> Iterator[Edit]:
    """For every field of a form something that cannot stand there, as far as its description tells."""
    for field in fields:
        here, value = (*way, field.name), table.get(field.name)
        if field.kind == "table":
            yield from slips(field.inside, value or {}, here)
        elif field.kind == "tables":
            for number, entry in enumerate(value or []):
                yield from slips(field.inside, entry, (*here, number))
        elif field.kind == "map":
            yield Edit(do="set", way=(*here, "no such, thing"), value="nothing")
            yield from (Edit(do="set", way=(*here, key), value=[]) for key in value or {})
        else:
            wrong = {"texts": ["nothing such"], "numbers": ["x"], "flag": "yes"}.get(field.kind, "x")
            bounds = ((field.least, -1e3), (field.most, 1e6)) if field.kind in ("number", "whole") else ()
            beyond = [bound + more for bound, more in bounds if bound is not None]
            yield from (Edit(do="set", way=here, value=one) for one in (wrong, *beyond))


def slip_many_times(made: project.Production, most: int, seed: int) -> None:
    """Whatever is refused is told with its place: that of the slip, or that of what is missing beside it."""
    texts = {name: data for name, data in made.inputs.items() if form_of(name)}
    found = [(name, e) for name, data in texts.items() for e in slips(form_of(name), tomllib.loads(data.decode()))]
    refused = 0
    for name, edit in random.Random(seed).sample(found, min(most, len(found))):
        data = edited(texts[name], [edit], name)
        try:
            checked(made, name, data)
        except BadInput as told:
            refused += 1
            way = way_of(told, tomllib.loads(data.decode()))
            missing = "is missing" in told.what and way[:-1] == edit.way[:-1]
            assert way[: len(edit.way)] == edit.way or missing, (name, edit, str(told))
    assert refused > 0.8 * min(most, len(found))


def test_every_slip_is_found_in_the_file(made: project.Production) -> None:
    """Sixty fields of all files, each with something that cannot stand there: the words land beside the field."""
    slip_many_times(made, 60, 1)


@pytest.mark.soak
def test_every_slip_of_every_field_is_found_in_the_file(made: project.Production) -> None:
    """All of them."""
    slip_many_times(made, 1_000_000, 1)


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
