"""pins.toml: every slip is told with its pin, its value and what would have been right."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rimside.casting.pin import Pin
from rimside.errors import BadInput
from rimside.files import job, project
from rimside.files.schema_pins import Known, PinTable, pins_from_toml
from rimside.score.model import Technique
from tests.casting.worlds import figure, toy_kit, toy_piano, toy_players
from tests.files.productions import change, new

FIGURES = (
    figure("P-01", Technique.FELT_HAMMER, [40], 0.0, 1.0, part="plucks", section="A", motif="m1"),
    figure("P-02", Technique.FELT_HAMMER, [40], 2.0, 3.0, part="plucks", section="B", motif="m1"),
    figure("L-01", Technique.LINE_BOW, [45], 2.0, 3.0, part="lines", section="B", motif="m2"),
)
KNOWN = Known(figures=FIGURES, players=toy_players(3), piano=toy_piano(), pianos=("toy", "other"), kit=toy_kit())


def pins(*tables: str) -> tuple[Pin, ...]:
    """The pins of a file with these tables."""
    body = "\n".join(f"[[pin]]\n{table}" for table in tables)
    return pins_from_toml(f'format = "rimside-pins/1"\n{body}'.encode(), KNOWN)


def test_holds_every_key() -> None:
    """One figure with all that can be pinned; a name of a player is as good as an id."""
    table = 'figure = "P-01"\nplayer = "Cleo"\nplace = "p06"\nhand = "left"\nimplement = "hammer 2"\ncontact_mm = 240.0'
    assert pins(table) == (
        Pin(figure="P-01", player="cleo", place="p06", hand="left", implement="hammer 2", contact_mm=240.0),
    )
    assert pins('figure = "P-01"\nplayer = "ada"\nforbid = true') == (Pin(figure="P-01", player="ada", forbid=True),)


def test_holds_an_empty_file() -> None:
    """A file without a pin pins nothing."""
    assert pins() == ()


@pytest.mark.parametrize(
    ("selector", "names"),
    [
        ('part = "plucks"', ["P-01", "P-02"]),
        ('section = "B"', ["P-02", "L-01"]),
        ('motif = "m1"', ["P-01", "P-02"]),
        ('part = "plucks"\nsection = "B"', ["P-02"]),
    ],
)
def test_holds_all_figures_of_a_kind(selector: str, names: list[str]) -> None:
    """A part, section or motif means each of its figures, two together those that are in both."""
    assert [pin.figure for pin in pins(f'{selector}\nplayer = "Ben"')] == names


def test_edge_a_pin_for_another_piano_is_no_pin_here() -> None:
    """It may name a place that this piano does not have; on its own piano that would be refused."""
    assert pins('figure = "P-01"\nplace = "K9"\npiano = "other"') == ()
    with pytest.raises(BadInput):
        pins('figure = "P-01"\nplace = "K9"\npiano = "toy"')


@pytest.mark.parametrize(
    ("tables", "says"),
    [
        (['figure = "P-03"\nplayer = "Ada"'], "pin no. 1: unknown figure: 'P-03'; did you mean 'P-0"),
        (['figure = "P-01"\nplayer = "Adda"'], "did you mean 'Ada'?"),
        (['figure = "P-01"\nplace = "p66"'], "did you mean 'p"),
        (['figure = "P-01"\nplace = "K9-99"'], "name the piano that is meant: piano = ..."),
        (['figure = "P-01"\npiano = "toyy"\nplayer = "Ada"'], "did you mean 'toy'?"),
        (['figure = "P-01"\nimplement = "hamer"'], "did you mean 'hammer'?"),
        (['figure = "P-01"\nimplement = "hammer 9"'], "unknown implement: 'hammer 9'"),
        (['part = "pluck"\nplayer = "Ada"'], "did you mean 'plucks'?"),
        (['part = "lines"\nsection = "A"\nplayer = "Ada"'], "no figure is in all of these"),
        (['player = "Ada"'], "'neither'"),
        (['figure = "P-01"\npart = "plucks"\nplayer = "Ada"'], "'both'"),
        (['figure = "P-01"'], "names nothing"),
        (['figure = "P-01"\nplayer = "Ada"\nhand = "left"\nforbid = true'], "names one thing only"),
        (['figure = "P-01"\nhand = "both"'], "'left' or 'right'"),
        (['figure = "P-01"\ncontact_mm = -5.0'], "too small"),
        (['figure = "P-01"\nplayr = "Ada"'], "unknown key"),
        (
            ['figure = "P-01"\nplayer = "Ada"', 'part = "plucks"\nplayer = "Ada"\nforbid = true'],
            "P-01: one pin fixes and another forbids the same player: 'ada'",
        ),
    ],
)
def test_broken_every_slip_is_told(tables: list[str], says: str) -> None:
    """One message that says where, what, and what was probably meant."""
    with pytest.raises(BadInput) as caught:
        pins(*tables)
    assert says in str(caught.value)
    assert "pins.toml" in str(caught.value)


# In a production.


def test_the_template_pins_nothing_and_its_examples_can_be_uncommented(tmp_path: Path) -> None:
    """A fresh production has no pins; each commented key is one that the file takes."""
    folder = new(tmp_path / "p")
    production = project.load(folder)
    piano = production.piano()
    assert production.pins(production.reading(), piano) == ()
    assert production.made_from(piano.name).keys() >= {"pins.toml"}
    keys = set(re.findall(r"^# (\w+) = ", (folder / "pins.toml").read_text("utf-8"), re.MULTILINE))
    assert len(keys) >= 8
    assert keys <= PinTable.model_fields.keys()


def test_a_production_without_the_file_has_no_pins(tmp_path: Path) -> None:
    """pins.toml may be missing."""
    folder = new(tmp_path / "p")
    (folder / "pins.toml").unlink()
    assert job.prepare(str(folder)).pins == ()


def test_keep_goes_on_from_a_casting_and_refuses_another_question(tmp_path: Path) -> None:
    """A pin added after a cast: one figure changes, quickly; a changed kit, or an option of its own, is refused."""
    folder = new(tmp_path / "p")
    done = job.cast(job.prepare(str(folder), seconds=3.0), lambda stage, share: None)
    row = done.casting.cast[0]
    other = next(player.id for player in done.casting.players if player.id != row.player)
    pin = f'\n[[pin]]\nfigure = "{row.figure}"\nplayer = "{other}"\n'
    path = folder / "pins.toml"
    path.write_text(path.read_text("utf-8") + pin, "utf-8")
    after = job.cast(job.prepare(str(folder), keep=done.name), lambda stage, share: None)
    assert after.name == done.name
    assert not after.breaches
    assert row.figure in after.altered
    assert next(each.player for each in after.casting.cast if each.figure == row.figure) == other
    assert not project.out_of_date(
        project.load(folder), project.read_casting(project.load(folder), done.name), done.name
    )
    with pytest.raises(BadInput, match="its own piano"):
        job.prepare(str(folder), piano=done.casting.piano, keep=done.name)
    with pytest.raises(BadInput, match="no such casting"):
        job.prepare(str(folder), keep="nothing")
    change(folder, "kit.toml", "count = 6", "count = 5")
    with pytest.raises(BadInput, match="more than pins has changed") as caught:
        job.prepare(str(folder), keep=done.name)
    assert "kit.toml" in str(caught.value)
