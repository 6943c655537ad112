"""A tour with real workers: the table, what lies on the disc, and that nothing is lost when somebody stops it."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from rimside import cli
from rimside.casting.result_json import to_json
from rimside.errors import BadInput, Interrupted, RimsideError
from rimside.files import job, project, tour, workers
from rimside.files.tour import Absences, Plan, State, Tour
from rimside.piano.shipped import shipped_survey
from rimside.say import production
from tests.files.productions import PIANO, change, new

SECOND = "grand_170"
SCORE = """#title,"Short Tide"
#tempo,66
#meter,4/4
section,start,length,technique,pitches,spot,rhythm,times,dynamic,essential,part
A,1:1,4 bars,line bow,D4,,sustained,1,pp,yes,Lines
A,3:1,4 bars,line bow,A4,,sustained,1,pp,yes,Lines
A,5:1,2 bars,finger pluck,F5 E5 C5,,x..x..x.,1,p,,Plucks
A,7:1,1 bars,felt hammer,D3,,x...,1,mp,,Hammers
"""
"""So short that every cast ends by itself, long before its time is up: then results do not depend on the machine."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A production of two pianos, cast on the first."""
    folder = new(tmp_path_factory.mktemp("tour") / "p")
    (folder / "pianos" / f"{SECOND}.toml").write_bytes(shipped_survey(SECOND))
    change(folder, "production.toml", f'pianos = ["{PIANO}"]', f'pianos = ["{PIANO}", "{SECOND}"]')
    (folder / "score.csv").write_text(SCORE, "utf-8")
    job.cast(job.prepare(str(folder), seconds=2.0), quiet)
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    for path in made.rglob("*"):
        if path.is_file():
            to = tmp_path / "p" / path.relative_to(made)
            to.parent.mkdir(parents=True, exist_ok=True)
            to.write_bytes(path.read_bytes())
    return tmp_path / "p"


def quiet(stage: str, share: float) -> None:
    assert 0.0 <= share <= 1.0 + 1e-9, (stage, share)


def table(found: Tour) -> object:
    """What the command prints as JSON, but for what was there before."""
    told: Any = production.tour_table(found)
    return [{key: value for key, value in stop.items() if key != "kept"} for stop in told["stops"]]


def castings(folder: Path) -> dict[str, str]:
    """Every casting on the disc but for the seconds it took."""
    return {
        path.stem: json.dumps({**json.loads(path.read_text("utf-8")), "seconds": 0.0})
        for path in (folder / "castings").glob("*.json")
    }


PLAN = Plan(absences=Absences.NONE, seconds=2.0)


def test_stops_are_pianos_times_absences(folder: Path) -> None:
    """Four players on two pianos: nobody, one, or two of them missing; names say who."""
    production = project.load(folder)
    counts = [len(tour.stops(production, absences)) for absences in Absences]
    assert counts == [2, 2 * (1 + 4), 2 * (1 + 4 + 6)]
    names = [stop.name for stop in tour.stops(production, Absences.PAIRS)]
    assert len(set(names)) == len(names)
    assert f"{SECOND}--without-ada--without-bo" in names


def test_a_tour_writes_every_casting_and_says_what_changes(folder: Path) -> None:
    """The first piano is as it is, the second a refit of it, written like any casting and up to date."""
    found = tour.tour(str(folder), PLAN, quiet)
    assert found.rows[0].state is State.AS_IT_IS
    refit = project.read_casting(project.load(folder), SECOND)
    assert refit.like == PIANO
    assert f"castings/{PIANO}.json" in refit.made_from
    assert project.out_of_date(project.load(folder), refit, SECOND) == ""
    assert found.rows[1].changes == refit.changes
    assert not found.rows[1].breaches


def test_what_is_up_to_date_is_not_cast_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second tour asks no worker; a changed kit makes it ask again."""
    first = tour.tour(str(folder), PLAN, quiet)
    asked: list[int] = []
    monkeypatch.setattr(workers, "here", lambda questions, told, report: asked.append(len(questions)))
    second = tour.tour(str(folder), PLAN, quiet)
    assert asked == [0]
    assert table(first) == table(second)
    assert all(row.kept for row in second.rows)
    tour.tour(str(folder), replace(PLAN, anew=True, like=PIANO), quiet)
    assert asked == [0, 1]


def test_a_worker_that_is_killed_loses_nothing(folder: Path) -> None:
    """The first process that says how far it is gets killed: the table and the files are those of a quiet tour."""
    killed: list[int] = []

    def killing(stage: str, share: float) -> None:
        if not killed:
            (process, *_) = multiprocessing.active_children()
            assert process.pid is not None
            killed.append(process.pid)
            os.kill(process.pid, signal.SIGKILL)

    plan = replace(PLAN, like=PIANO)
    disturbed = tour.tour(str(folder), plan, killing)
    assert killed
    after = castings(folder)
    calm = tour.tour(str(folder), replace(plan, anew=True), quiet)
    assert table(disturbed) == table(calm)
    assert after == castings(folder)


def test_with_several_at_work_a_killed_one_costs_only_its_own(folder: Path) -> None:
    """Three casts by two processes, the second of which is killed: each is told once, the answers are alike."""
    ready = job.prepare(str(folder), SECOND, seconds=2.0, like=PIANO)
    told: list[tuple[int, str]] = []
    killed: list[int] = []

    def tell(number: int, answer: workers.Answer | RimsideError) -> None:
        assert not isinstance(answer, RimsideError)
        told.append((number, str(to_json(replace(answer[0], seconds=0.0)))))

    def killing(stage: str, share: float) -> None:
        working = multiprocessing.active_children()
        if not killed and len(working) == workers.AT_ONCE:
            process = max(working, key=lambda one: one.pid or 0)
            assert process.pid is not None
            killed.append(process.pid)
            os.kill(process.pid, signal.SIGKILL)

    workers.here([ready, ready, ready], tell, killing)
    assert killed
    assert sorted(number for number, _ in told) == [0, 1, 2]
    assert len({words for _, words in told}) == 1


def test_a_cast_that_kills_every_worker_is_told_apart(folder: Path) -> None:
    """Killed each time it begins: that stop is not worked out, after a few tries, and the tour ends well."""
    killed: list[int] = []

    def killing(stage: str, share: float) -> None:
        for process in multiprocessing.active_children():
            if process.pid is not None and process.pid not in killed:
                killed.append(process.pid)
                os.kill(process.pid, signal.SIGKILL)

    found = tour.tour(str(folder), replace(PLAN, like=PIANO), killing)
    assert len(killed) == workers.ATTEMPTS
    assert [row.state for row in found.rows] == [State.AS_IT_IS, State.NOT_DONE]
    assert "died" in found.rows[1].slip
    assert not (folder / "castings" / f"{SECOND}.json").exists()


def test_stopping_keeps_what_is_done(folder: Path) -> None:
    """Ctrl-C in the middle: no process is left, finished stops are known, and the words say how to go on."""

    def stopping(stage: str, share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(Interrupted) as stopped:
        tour.tour(str(folder), replace(PLAN, like=PIANO), stopping)
    assert multiprocessing.active_children() == []
    assert "1 of 2 stops are done" in tour.stopped_words(stopped.value)


def test_nobody_left_is_no_slip_of_the_tour(folder: Path) -> None:
    """One player, who is missing: that stop cannot be worked out, the others can."""
    people = (folder / "ensemble.toml").read_text("utf-8")
    first, second = people.split("[[player]]")[:2]
    (folder / "ensemble.toml").write_text(f"{first}[[player]]{second}", "utf-8")
    job.cast(job.prepare(str(folder), seconds=2.0), quiet)
    change(folder, "production.toml", f', "{SECOND}"', "")
    found = tour.tour(str(folder), replace(PLAN, absences=Absences.EACH, seconds=2.0), quiet)
    assert found.rows[-1].slip == "nobody is left to play"
    assert "nobody is left" in production.tour_text(found)


def test_the_first_piano_is_cast_when_there_is_nothing_to_stay_close_to(folder: Path) -> None:
    """Without a casting of the first piano it is made first."""
    (folder / "castings" / f"{PIANO}.json").unlink()
    found = tour.tour(str(folder), PLAN, quiet)
    assert found.like == PIANO
    assert {path.stem for path in (folder / "castings").glob("*.json")} == {PIANO, SECOND}


# Clusters.


@contextmanager
def cluster() -> Iterator[str]:
    """A cluster inside this process, reached as any other is."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None, protocol="tcp://"
    ) as running:
        yield running.scheduler_address


@pytest.mark.filterwarnings("default")
def test_a_cluster_brings_the_same_as_this_machine(folder: Path) -> None:
    """The same tables and the same files, to the letter."""
    pytest.importorskip("distributed")
    plan = replace(PLAN, like=PIANO)
    ours, after = table(tour.tour(str(folder), plan, quiet)), castings(folder)
    with cluster() as address:
        theirs = tour.tour(str(folder), replace(plan, anew=True, scheduler=address), quiet)
    assert table(theirs) == ours
    assert castings(folder) == after


@pytest.mark.parametrize("address", ["nonsense://x", "127.0.0.1", "tcp://", "tcp://host:"])
def test_what_is_no_address_is_refused_at_once(folder: Path, address: str) -> None:
    """Before any library is asked; nothing on the disc changes."""
    before = castings(folder)
    with pytest.raises(BadInput, match="no address of a cluster"):
        tour.tour(str(folder), replace(PLAN, scheduler=address), quiet)
    assert castings(folder) == before


@pytest.mark.filterwarnings("default")
def test_a_cluster_that_does_not_answer_is_one_clear_message(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit status 2, nothing on the disc changes."""
    pytest.importorskip("distributed")
    monkeypatch.setattr(workers, "PATIENCE_S", 0.5)
    before = castings(folder)
    words = ["tour", str(folder), "--absences", "none", "--scheduler", "tcp://127.0.0.1:9", "--quiet"]
    assert cli.main(words) == cli.BAD_INPUT
    assert "no cluster answers" in capsys.readouterr().err
    assert castings(folder) == before


def test_without_the_library_for_clusters_the_message_says_what_to_install(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The extra is named."""
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(BadInput, match=r"rimside\[cluster\]"):
        tour.tour(str(folder), replace(PLAN, scheduler="tcp://127.0.0.1:9"), quiet)
