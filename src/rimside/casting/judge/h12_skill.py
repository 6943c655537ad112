"""H12 as the judge reads it: everybody has learned what they play."""

from __future__ import annotations

from collections.abc import Iterator

from rimside.casting.judge.plan import Breach, Plan, named


def breaches(plan: Plan) -> Iterator[Breach]:
    """Techniques that a player does not do."""
    for task in plan.tasks:
        person = plan.people.get(task.player.id)
        if person is not None and not person.plays(task.figure.technique):
            message = f"{person.name} does not play {task.figure.technique.value}: {named(task.figure)}."
            yield Breach(rule="H12", message=message, figures=(task.figure.id,))
