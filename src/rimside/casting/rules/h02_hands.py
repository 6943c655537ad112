"""H2 hands: at no time do a player's figures need more than two hands, and all is done from one place."""

from __future__ import annotations

from rimside.casting.draft import Draft
from rimside.casting.problem import HANDS, Task, overlap
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
    """Never more than two hands a player; overlapping figures of one player are done from one place."""
    tasks = draft.tasks
    for task in tasks:
        together = sounding_at_start(task, tasks)
        for player in range(len(draft.problem.players)):
            terms = [(t.hands, draft.x[t.index][player]) for t in together if player in draft.x[t.index]]
            if sum(hands for hands, _ in terms) > HANDS:
                draft.model.at_most(terms, HANDS)
    for a, b in draft.overlapping():
        if a.hands + b.hands > HANDS or not draft.can_share_player(a, b):
            continue
        same = draft.same(a, b)
        for place, literal in draft.y[a.index].items():
            draft.model.clause([~same, ~literal, *draft.y_in(b, (place,))])
