"""Where the finger lies when a score asks for a partial and not for a node: the best node on this piano.

A node that is written ("touch 1/3") is kept to. Which nodes are free differs from piano to piano, so this is done for
each piano anew, as technique fallback is (`rimside.casting.fallback`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from rimside.casting.contacts import contact_sets
from rimside.kit import Kit, TechniqueRow
from rimside.piano.model import Piano
from rimside.piano.nodes import node, usable_nodes
from rimside.score.model import Figure, Touch


def with_best_nodes(figures: Iterable[Figure], piano: Piano, kit: Kit) -> tuple[Figure, ...]:
    """The figures, each that asks for a partial at the best of its nodes; `loose` tells that it was so written."""
    return tuple(_at_best(figure, piano, kit.rows[figure.technique]) for figure in figures)


def _at_best(figure: Figure, piano: Piano, row: TechniqueRow) -> Figure:
    touch, there = figure.touch, {course.key for course in piano.courses}
    if touch is None or not touch.loose or not there.issuperset(figure.keys):
        return figure
    return replace(figure, touch=max(_nodes_of(touch), key=lambda one: _worth(figure, one, piano, row)))


def _nodes_of(touch: Touch) -> tuple[Touch, ...]:
    return tuple(replace(one, loose=touch.loose) for one in usable_nodes(touch.n))


def _worth(figure: Figure, touch: Touch, piano: Piano, row: TechniqueRow) -> tuple[bool, tuple[bool, float, float]]:
    """The greater the better: room to play beside the finger, then what the worst of the courses offers."""
    return _playable(figure, touch, piano, row), min(node(piano, key, touch).ease for key in figure.keys)


def _playable(figure: Figure, touch: Touch, piano: Piano, row: TechniqueRow) -> bool:
    return any(True for _ in contact_sets(piano, replace(figure, touch=touch), row))


def free_nodes(figure: Figure, piano: Piano, row: TechniqueRow) -> tuple[Touch, ...]:
    """The other nodes of the same partial at which the figure could be played."""
    if figure.touch is None:
        return ()
    others = (touch for touch in _nodes_of(figure.touch) if touch.k != figure.touch.k)
    return tuple(touch for touch in others if _playable(figure, touch, piano, row))
