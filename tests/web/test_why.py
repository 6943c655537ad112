"""What stands in the way is told whole, as a player says it; mends are tried, and kept in the file that holds them."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from rimside.casting.problem import RESERVE_S
from rimside.casting.verify import verify
from rimside.errors import BadInput
from rimside.files import checkup, job, mending, project
from rimside.files.history import Conflict, History
from rimside.web import why as whys
from rimside.web.why import Why
from tests.files import productions
from tests.paper import fixture


def told(folder: Path) -> Why:
    """The reasons of the folder's one casting."""
    production = project.load(folder)
    name = project.casting_names(folder)[0]
    book = job.material(production, name, project.read_casting(production, name), production.reading())
    return whys.why(book, production, name, checkup.check(str(folder)))


@pytest.fixture
def copy(troubled: Path, tmp_path: Path) -> Path:
    """A copy of the production with troubles."""
    return Path(shutil.copytree(troubled, tmp_path / "production"))


def test_every_uncast_figure_is_told_with_its_rule_by_name_and_what_mends_it(troubled: Path) -> None:
    """Two figures are left out: one for want of a hammer, one because the owner has not allowed it."""
    found = told(troubled)
    production = project.load(troubled)
    casting = project.read_casting(production, project.casting_names(troubled)[0])
    assert [row.at.id for row in found.uncast] == [row.figure for row in casting.uncast]
    assert all(row.rules and not any(rule.startswith("H") for rule in row.rules) for row in found.uncast)
    kinds = {way.kind: way for row in found.uncast for way in row.ways}
    assert kinds["implement"].file == "kit.toml"
    assert kinds["permission"].file == f"pianos/{casting.piano}.toml"
    assert all(way.can_try for way in kinds.values())
    assert all(bool(way.score) == (way.kind in ("technique", "shorten")) for way in kinds.values())


def test_a_permission_that_the_piece_needs_is_told_with_the_figures(troubled: Path) -> None:
    """The owner has not allowed beaters; the one figure that asks for them is named."""
    (row,) = told(troubled).wanted
    assert row.name == "beaters"
    assert [at.how for at in row.figures] == ["beater"]


def test_cautions_puzzles_and_slips_are_told(copy: Path) -> None:
    """What nobody has read, and a slip that spoils the casting too, once."""
    assert len(told(copy).unread) == len(project.load(copy).facts.cautions_unread) > 0
    productions.change(copy, "kit.toml", "count = 1", "count = -1")
    ((name, slip),) = whys.slips(checkup.check(str(copy)))
    assert name == "kit.toml"
    assert "count" in slip


def test_a_casting_that_is_out_of_date_is_told(copy: Path) -> None:
    """A change of the kit makes the casting out of date, and no mend is tried on it."""
    productions.change(copy, "kit.toml", "count = 1", "count = 2")
    assert [row.name for row in told(copy).stale] == list(project.casting_names(copy))
    production = project.load(copy)
    with pytest.raises(BadInput, match="out of date"):
        mending.try_mend(production, project.casting_names(copy)[0], told(copy).uncast[0].at.id, 0)


def test_a_hurried_change_is_a_sentence_with_what_it_needs_and_what_there_is(troubled: Path) -> None:
    """Every change under the reserve is told once, tightest first, with the player, the time it needs and the bar."""
    book, production = fixture.book(), project.load(troubled)
    production = replace(production, facts=replace(production.facts, pianos=(book.casting.piano,)))
    found = whys.why(book, production, "none", checkup.Checkup(inputs=(), castings=()))
    slacks = [row.step.change.slack_s for row in found.tight if row.step.change is not None]
    assert slacks
    assert all(slack is not None and slack < RESERVE_S for slack in slacks)
    assert slacks == sorted(slacks, key=lambda slack: slack or 0.0)
    for row in found.tight:
        assert row.who.name in row.sentence
        assert row.step.bar_words in row.sentence


def test_trying_a_mend_writes_nothing_and_brings_the_figure(copy: Path) -> None:
    """Each mend of each uncast figure casts that figure, loses none, and breaks no rule but the one to be practised."""
    before = {path: path.read_bytes() for path in copy.rglob("*") if path.is_file()}
    production = project.load(copy)
    name = project.casting_names(copy)[0]
    casting = project.read_casting(production, name)
    for row in casting.uncast:
        for number in range(len(row.mends)):
            tried = mending.try_mend(production, name, row.figure, number)
            assert row.figure in tried.gained
            assert {one.figure for one in casting.cast} <= {one.figure for one in tried.casting.cast}
            assert tried.breaches == ()
    assert {path: path.read_bytes() for path in copy.rglob("*") if path.is_file()} == before


def test_keeping_a_mend_writes_its_file_and_the_casting_in_one_step(copy: Path) -> None:
    """The owner's leave and one more hammer stand in their files, the casting is up to date and correct; undo works."""
    name = project.casting_names(copy)[0]
    history = History(copy)
    for kind in ("permission", "implement"):
        production = project.load(copy)
        casting = project.read_casting(production, name)
        figure, number = next((u.figure, n) for u in casting.uncast for n, m in enumerate(u.mends) if m.kind == kind)
        step = mending.keep(history, production, mending.try_mend(production, name, figure, number), at="now")
        assert len(step.files) == 2
        after = project.load(copy)
        kept = project.read_casting(after, name)
        assert figure in {row.figure for row in kept.cast}
        assert project.out_of_date(after, kept, name) == ""
        assert verify(kept, after.piano(kept.piano), after.players(), after.kit()) == ()
    assert "beaters" in project.load(copy).piano(casting.piano).permissions.allowed
    assert not project.read_casting(project.load(copy), name).uncast
    history.undo()
    assert len(project.read_casting(project.load(copy), name).uncast) == 1
    history.close()


def test_a_mend_that_somebody_overtook_is_refused(copy: Path) -> None:
    """The kit was changed between trying and keeping: nothing is written, and it is said."""
    name = project.casting_names(copy)[0]
    production = project.load(copy)
    casting = project.read_casting(production, name)
    figure, number = next((u.figure, n) for u in casting.uncast for n, m in enumerate(u.mends) if m.kind == "implement")
    tried = mending.try_mend(production, name, figure, number)
    productions.change(copy, "kit.toml", "count = 1", "count = 3")
    history = History(copy)
    with pytest.raises(Conflict):
        mending.keep(history, production, tried)
    history.close()
    assert "count = 3" in (copy / "kit.toml").read_text()


def test_a_mend_of_people_is_not_kept_in_a_file(copy: Path) -> None:
    """Another technique is for the composer: keeping it is refused, and it says where it stands in the score."""
    name = project.casting_names(copy)[0]
    production = project.load(copy)
    casting = project.read_casting(production, name)
    figure, number = next((u.figure, n) for u in casting.uncast for n, m in enumerate(u.mends) if m.kind == "technique")
    history = History(copy)
    with pytest.raises(BadInput, match="people"):
        mending.keep(history, production, mending.try_mend(production, name, figure, number))
    history.close()
    assert whys.afterwards(production, "technique")[1] == production.facts.score
