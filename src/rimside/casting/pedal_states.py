"""The fewest pedal actions as a model of whole numbers: the state of every pedal and silent key, step by step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from rimside.casting.model import Model
from rimside.casting.objective import ESSENTIAL_WEIGHT
from rimside.casting.pedal_wants import Stretch, Wants, stretches
from rimside.casting.scale import whole_ms, written_s
from rimside.casting.solve import Outcome, Status, solve
from rimside.piano.dampers import HeldKey, course_is_free
from rimside.piano.model import Piano
from rimside.pitch import Key
from rimside.score.model import Pedal, PedalSpan

ACTION_S = 0.2
"""Two actions that must follow each other are at least so far apart. Our assumption."""
LOAD_STEP_S = 3.0
"""The same before the piece begins and after it ends, where nobody hurries. Our assumption."""
HOLDING_HANDS, SPAN_KEYS, FINGERS = 2, 14, 5
"""What one player at the keyboard can hold down for long: two hands, each with five keys, 14 keys apart at most.
To press keys just while the sostenuto pedal catches them, others may help."""
STEPS, STEPS_WITH_SOSTENUTO = 2, 4
"""States in one stretch. Two let a key take over from a pedal; with a sostenuto pedal four: keys down, pedal up, pedal
down, keys up."""
EFFORT, TIDY_EFFORT, SECONDS = 10.0, 3.0, 120.0
"""Work allowed for each question; for shortening the time that keys are held, which need not be the shortest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A plan: pedals, silent keys, the figures left out with their weight, and how many actions it takes.

    No plan that leaves out as little takes fewer than `bound`.
    """

    pedals: tuple[PedalSpan, ...]
    held: tuple[HeldKey, ...]
    left_out: frozenset[str] = frozenset()
    weight: int = 0
    actions: int
    bound: int


def fewest_actions(wants: Wants, piano: Piano, end_s: float) -> Found:
    """The plan that leaves out least (essential figures first), then acts least, then holds keys for the shortest time.

    The sostenuto pedal never saves an action over holding the keys themselves, for keys must be held for it to catch;
    it is tried when a player's two hands cannot hold them all.
    """
    first_s = min([0.0, *(want.start_s for want in wants.wants)])
    cut = stretches(wants, first_s, end_s, merged=Pedal.DAMPER in piano.pedals)
    easy = _States(wants=wants, piano=piano, cut=cut, sostenuto=False, hands=False).best()
    if all(_in_two_hands(easy.held, stretch) for stretch in cut if _hands_matter(stretch, piano)):
        return easy
    by_hand = _trimmed(_States(wants=wants, piano=piano, cut=cut, sostenuto=False, hands=True).best(), wants, piano)
    if Pedal.SOSTENUTO not in piano.pedals:
        return by_hand
    whole = _trimmed(_States(wants=wants, piano=piano, cut=cut, sostenuto=True, hands=True).best(), wants, piano)
    return min(whole, replace(by_hand, bound=whole.bound), key=lambda found: (found.weight, found.actions))


def _trimmed(found: Found, wants: Wants, piano: Piano) -> Found:
    """A plan that is not proved without the keys that serve nothing; each lifts the damper of its own course alone."""
    if found.actions == found.bound:
        return found
    kept: list[HeldKey] = []
    for key in sorted({one.key for one in found.held}):
        course = piano.course(key)
        rings = [w for w in wants.wants if w.ring and w.key == key and w.figure not in found.left_out]
        mine = tuple(one for one in found.held if one.key == key)
        for one in mine:
            fewer = tuple(other for other in mine if other != one)
            if all(course_is_free(course, found.pedals, ring.start_s, ring.end_s, fewer) for ring in rings):
                mine = fewer
        kept += mine
    return replace(found, held=tuple(kept), actions=2 * (len(found.pedals) + len(kept)))


def _hands_matter(stretch: Stretch, piano: Piano) -> bool:
    """Whether no damper pedal could stand in for hands that hold keys."""
    return stretch.dry or Pedal.DAMPER not in piano.pedals


def _in_two_hands(held: tuple[HeldKey, ...], stretch: Stretch) -> bool:
    return fits_two_hands({one.key for one in held if one.down_s < stretch.end_s and stretch.start_s < one.up_s})


def fits_two_hands(keys: set[Key]) -> bool:
    """Whether one player can hold these keys down."""
    hands = 0
    reached = 0
    for key in sorted(keys):
        if key >= reached:
            hands, reached = hands + 1, key + SPAN_KEYS
    return hands <= HOLDING_HANDS and len(keys) <= HOLDING_HANDS * FINGERS


@dataclass(slots=True, kw_only=True)
class _States:
    """One question: a 0/1 variable for each pedal and key in each step, another for each figure left out."""

    wants: Wants
    piano: Piano
    cut: tuple[Stretch, ...]
    sostenuto: bool
    hands: bool
    model: Model = field(default_factory=Model)
    steps: list[tuple[Stretch | None, float]] = field(default_factory=list)
    damper: list[int] = field(default_factory=list)
    sustained: list[int] = field(default_factory=list)
    keys: dict[Key, list[int]] = field(default_factory=dict)
    caught: dict[Key, list[int]] = field(default_factory=dict)
    out: dict[str, int] = field(default_factory=dict)

    def best(self) -> Found:
        """Solve: first the least left out, then the fewest actions."""
        self._lay_steps()
        self._lay_variables()
        for number, want in enumerate(self.wants.wants):
            inside = [p for p, (stretch, _) in enumerate(self.steps) if stretch and number in stretch.wants]
            self._ring(inside, number) if want.ring else self._damp(inside, number)
        if self.sostenuto:
            self._catch()
        if self.hands:
            self._hold_within_hands()
        return self._solved()

    def _lay_steps(self) -> None:
        most = STEPS_WITH_SOSTENUTO if self.sostenuto else STEPS
        first_s, last_s = self.cut[0].start_s, self.cut[-1].end_s
        self.steps = [(None, first_s - (most - i) * LOAD_STEP_S) for i in range(most)]
        for stretch in self.cut:
            length_s = stretch.end_s - stretch.start_s
            count = max(1, min(most, int(length_s / ACTION_S)))
            self.steps += [(stretch, stretch.start_s + i * length_s / count) for i in range(count)]
        self.steps += [(None, last_s + i * LOAD_STEP_S) for i in range(most)]

    def _lay_variables(self) -> None:
        self.out = {name: self.model.boolean() for name in self.wants.figures}
        self.damper = self._switch(Pedal.DAMPER in self.piano.pedals)
        ringing = sorted({want.key for want in self.wants.wants if want.ring})
        self.keys = {key: self._switch(True) for key in ringing}
        for key, states in self.keys.items():
            for state, (stretch, _) in zip(states, self.steps, strict=True):
                if stretch is not None and key in stretch.played:
                    self.model.fix(state, 0)
        if self.sostenuto:
            self.sustained = self._switch(True)
            self.caught = {key: self._switch(True) for key in sorted({want.key for want in self.wants.wants})}

    def _switch(self, there: bool) -> list[int]:
        """One state for each step, at rest before all and after all; what is not there is always at rest."""
        states = [self.model.boolean() for _ in self.steps]
        for state in (states[0], states[-1]) if there else states:
            self.model.fix(state, 0)
        return states

    def _sources(self, key: Key) -> list[list[int]]:
        found = [self.damper, self.keys.get(key), self.caught.get(key)]
        return [states for states in found if states is not None]

    def _ring(self, inside: list[int], number: int) -> None:
        """Something keeps the damper up in every step, and over every change from one to the next."""
        want = self.wants.wants[number]
        out, sources = self.out[want.figure], self._sources(want.key)
        self.model.clause([out, *(states[inside[0]] for states in sources)])
        for p, q in pairwise(inside):
            self.model.clause([out, *(self._through(states, p, q) for states in sources)])

    def _through(self, states: list[int], p: int, q: int) -> int:
        literal = self.model.boolean()
        self.model.clause([~literal, states[p]])
        self.model.clause([~literal, states[q]])
        return literal

    def _damp(self, inside: list[int], number: int) -> None:
        want = self.wants.wants[number]
        for p in inside:
            for states in self._sources(want.key):
                self.model.clause([self.out[want.figure], ~states[p]])

    def _catch(self) -> None:
        """The sostenuto pedal takes what is raised when it goes down, while nothing else moves, and keeps it."""
        add, held = self.model.clause, self.sustained
        delicate = {want.key for want in self.wants.dry}
        for p, q in pairwise(range(len(self.steps))):
            still_up = [held[p], ~held[q]]
            if delicate & (self._played(p) | self._played(q)):
                add([held[p], ~held[q]])
            for states in (self.damper, *self.keys.values()):
                add([*still_up, ~states[p], states[q]])
                add([*still_up, states[p], ~states[q]])
            for key, caught in self.caught.items():
                raised = [states[q] for states in (self.damper, self.keys.get(key)) if states is not None]
                add([*still_up, ~caught[q], *raised])
                for state in raised:
                    add([*still_up, ~state, caught[q]])
                add([held[q], ~caught[q]])
                add([~held[p], ~held[q], ~caught[p], caught[q]])
                add([~held[p], ~held[q], caught[p], ~caught[q]])

    def _played(self, p: int) -> frozenset[Key]:
        stretch = self.steps[p][0]
        return frozenset() if stretch is None else stretch.played

    def _hold_within_hands(self) -> None:
        """While no damper pedal can help, what is held lies under two hands; each stands at its lowest key."""
        for p, (stretch, _) in enumerate(self.steps):
            if stretch is None or not _hands_matter(stretch, self.piano):
                continue
            hand = {key: self.model.boolean() for key in self.keys}
            self.model.at_most([(1, at) for at in hand.values()], HOLDING_HANDS)
            self.model.at_most([(1, states[p]) for states in self.keys.values()], HOLDING_HANDS * FINGERS)
            for key, states in self.keys.items():
                near = [at for low, at in hand.items() if low <= key < low + SPAN_KEYS]
                self.model.clause([~states[p], *near])

    def _solved(self) -> Found:
        weigh = [(self._weight(name), out) for name, out in self.out.items()]
        switches = [self.damper, *self.keys.values(), *([self.sustained] if self.sostenuto else [])]
        presses = [(1, press) for states in switches for press in self._presses(states)]
        self.model.objective = weigh
        least = _usable(solve(self.model, effort=EFFORT, seconds=SECONDS))
        assert least.objective is not None
        self.model.at_most(weigh, least.objective)
        self.model.hint = dict(enumerate(least.values))
        self.model.objective = presses
        fewest = solve(self.model, effort=EFFORT, seconds=SECONDS)
        bound = 2 * max(0, fewest.bound or 0) if least.status is Status.BEST else 0
        if not fewest.usable:
            fewest = _usable(solve(self.model, effort=EFFORT, seconds=SECONDS, by_core=False))
        assert fewest.objective is not None
        self.model.at_most(presses, fewest.objective)
        self.model.hint = dict(enumerate(fewest.values))
        self.model.objective = [*self._key_time()]
        if fewest.status is not Status.BEST:
            return self._found(fewest, bound=bound)
        tidy = solve(self.model, effort=TIDY_EFFORT, seconds=SECONDS, by_core=False)
        return self._found(tidy if tidy.usable else fewest, bound=bound)

    def _found(self, answer: Outcome, *, bound: int) -> Found:
        pedals = (*self._spans(Pedal.DAMPER, answer), *self._spans(Pedal.SOSTENUTO, answer))
        held = tuple(
            HeldKey(key=key, down_s=down_s, up_s=up_s)
            for key, states in self.keys.items()
            for down_s, up_s in self._on(states, answer)
        )
        left_out = frozenset(name for name, out in self.out.items() if answer.values[out])
        weight = sum(self._weight(name) for name in left_out)
        actions = 2 * (len(pedals) + len(held))
        return Found(pedals=pedals, held=held, left_out=left_out, weight=weight, actions=actions, bound=bound)

    def _weight(self, name: str) -> int:
        return ESSENTIAL_WEIGHT if name in self.wants.essential else 1

    def _key_time(self) -> Iterator[tuple[int, int]]:
        """Whole ms, rounded up, for each key in each step."""
        for p, q in pairwise(range(len(self.steps))):
            length_ms = 1 + whole_ms(self.steps[q][1] - self.steps[p][1])
            for states in self.keys.values():
                yield length_ms, states[p]

    def _presses(self, states: list[int]) -> list[int]:
        """A variable for each change of step, true when the thing goes down there."""
        presses = []
        for p, q in pairwise(states):
            literal = self.model.boolean()
            self.model.clause([literal, p, ~q])
            presses.append(literal)
        return presses

    def _spans(self, pedal: Pedal, answer: Outcome) -> Iterator[PedalSpan]:
        states = self.damper if pedal is Pedal.DAMPER else self.sustained
        for down_s, up_s in self._on(states, answer):
            yield PedalSpan(pedal=pedal, down_s=down_s, up_s=up_s)

    def _on(self, states: list[int], answer: Outcome) -> Iterator[tuple[float, float]]:
        down_s = 0.0
        for p, q in pairwise(range(len(states))):
            before, after = answer.values[states[p]], answer.values[states[q]]
            if after and not before:
                down_s = written_s(self.steps[q][1])
            if before and not after:
                yield down_s, written_s(self.steps[q][1])


def _usable(outcome: Outcome) -> Outcome:
    if not outcome.usable:
        raise RuntimeError(f"the pedal plan ended without an answer: {outcome.status.value}")
    return outcome
