"""A model of whole-number variables, clauses and linear rows that belongs to no solver.

`solve.py` hands it to CP-SAT; the tests hand the very same model to another solver.
A literal is a variable's number, or its complement `-number - 1` (so `~literal` negates).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field


@dataclass(slots=True)
class Model:
    """Variables with bounds, clauses (at least one literal true), rows (sum of coefficient * variable <= bound)."""

    bounds: list[tuple[int, int]] = field(default_factory=list)
    clauses: list[list[int]] = field(default_factory=list)
    rows: list[tuple[list[tuple[int, int]], int]] = field(default_factory=list)
    objective: list[tuple[int, int]] = field(default_factory=list)
    offset: int = 0
    hint: dict[int, int] = field(default_factory=dict)

    def boolean(self) -> int:
        """A new 0/1 variable; returns its number."""
        return self.integer(0, 1)

    def integer(self, low: int, high: int) -> int:
        """A new whole-number variable; returns its number."""
        self.bounds.append((low, high))
        return len(self.bounds) - 1

    def fix(self, variable: int, value: int) -> None:
        """Pin a variable to one value."""
        self.bounds[variable] = (value, value)

    def clause(self, literals: Iterable[int]) -> None:
        """At least one of the literals is true."""
        self.clauses.append(list(literals))

    def at_most(self, terms: Iterable[tuple[int, int]], bound: int) -> None:
        """Sum of coefficient * variable is at most `bound`; each term is (coefficient, variable)."""
        self.rows.append((list(terms), bound))

    def equal(self, terms: Iterable[tuple[int, int]], value: int) -> None:
        """Sum of coefficient * variable is `value`."""
        listed = list(terms)
        self.at_most(listed, value)
        self.at_most([(-coefficient, variable) for coefficient, variable in listed], -value)

    def any_of(self, literals: Iterable[int]) -> int:
        """A new 0/1 variable that is true at least whenever one of the literals is."""
        result = self.boolean()
        for literal in literals:
            self.clause([~literal, result])
        return result
