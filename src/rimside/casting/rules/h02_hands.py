"""H2 hands: at no time do a player's figures need more than two hands, and all is done from one place."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.problem import FEET, HANDS, Task, overlap
from rimside.kit import Kit, TechniqueRow
from rimside.score.model import Figure, Mute, Technique

RULE, NAME = "H2", "two hands"


def base_hands(figure: Figure, row: TechniqueRow, kit: Kit) -> int:
    """Hands for the technique itself, a finger at a node and a finger mute; speed may ask for one more."""
    own = kit.line_bow_hands if row.hands == HANDS and row.technique is Technique.LINE_BOW else row.hands
    return own + (figure.touch is not None) + (figure.mute is Mute.FINGER)


def sounding_at_start(task: Task, tasks: list[Task]) -> list[Task]:
    """The figures that sound at the moment when `task` begins, itself among them."""
    return [other for other in tasks if other is task or (overlap(task, other) and other.start_s <= task.start_s)]


def add(draft: Draft) -> None:
    """Never more than two hands and one foot a player; what overlaps is done from one place."""
    tasks = draft.tasks
    for task in tasks:
        together = sounding_at_start(task, tasks)
        for player in draft.x[task.index]:
            mine = [t for t in together if player in draft.x[t.index]]
            for asked, limit in (([t.hands for t in mine], HANDS), ([t.feet for t in mine], FEET)):
                if sum(asked) > limit:
                    given = (draft.x[t.index][player] for t in mine)
                    draft.model.at_most([(n, x) for n, x in zip(asked, given, strict=True) if n], limit)
    for a, b in draft.overlapping():
        if not draft.can_share_player(a, b):
            continue
        same = draft.same(a, b)
        for place, literal in draft.y[a.index].items():
            draft.model.clause([~same, ~literal, *draft.y_in(b, (place,))])
    if any(task.side for task in tasks):
        _left_and_right(draft)


def _left_and_right(draft: Draft) -> None:
    """Each one-handed task is in the left or the right hand, as pinned; two of one player that overlap are in both.

    Tasks without a pin count too: between two pinned ones they must fit in. So do pairs of decided tasks.
    """
    model, tasks = draft.model, [task for task in draft.tasks if task.hands == 1]
    left = {task.index: model.boolean() for task in tasks}
    for number, b in enumerate(tasks):
        if b.side:
            model.fix(left[b.index], int(b.side == "left"))
        for a in tasks[:number]:
            if overlap(a, b) and draft.can_share_player(a, b):
                same = draft.same(a, b)
                model.clause([~same, left[a.index], left[b.index]])
                model.clause([~same, ~left[a.index], ~left[b.index]])
