"""The questions that the benchmarks put: always the same, of the size they claim, and possible one figure at a time."""

from __future__ import annotations

from itertools import combinations

import pytest

from benchmarks.families import DENSITIES, PLAYERS, instance, problem


def test_the_same_seed_gives_the_same_question() -> None:
    """Every figure is the same again; another seed writes other music."""
    assert instance(3, "dense", 8, 1) == instance(3, "dense", 8, 1)
    assert instance(3, "dense", 8, 1).figures != instance(3, "dense", 8, 2).figures


def test_the_thick_long_piece_has_six_hundred_figures() -> None:
    """Ten players and 20 minutes of dense music; a middle piece of 10 minutes has 180."""
    assert len(instance(20, "dense", 10).figures) == 600
    assert len(instance(10, "middle", 10).figures) == 180


# Ours: a benchmark of figures that nobody could play alone would measure nothing.
@pytest.mark.parametrize("density", DENSITIES)
@pytest.mark.parametrize("players", PLAYERS)
def test_every_figure_can_be_played_when_it_stands_alone(density: str, players: int) -> None:
    """No figure is barred, and no course is asked for twice at one time."""
    of = instance(10, density, players)
    assert all(task.barred is None for task in problem(of).tasks)
    for a, b in combinations(of.figures, 2):
        if a.start_s < b.end_s and b.start_s < a.end_s:
            assert set(a.keys).isdisjoint(b.keys)


def test_music_comes_back() -> None:
    """A piece of 10 minutes has fewer motifs than two thirds of its figures."""
    figures = instance(10, "middle", 10).figures
    assert len({figure.motif for figure in figures}) < len(figures) * 2 / 3
