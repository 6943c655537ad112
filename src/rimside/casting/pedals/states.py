"""The fewest pedal actions as a model of whole numbers: the state of every pedal and silent key, step by step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

from rimside.casting.model import Model
from rimside.casting.objective import ESSENTIAL_WEIGHT
from rimside.casting.pedals.wants import Stretch, Wants, stretches
from rimside.casting.scale import whole_ms, written_s
from rimside.casting.solve import Outcome, Status, solve
from rimside.piano.dampers import HeldKey, course_is_free
from rimside.piano.instrument import INSTRUMENTS
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
EFFORT, LONG_EFFORT, TIDY_EFFORT, SECONDS = 6.0, 10.0, 3.0, 120.0
"""Work allowed for each question; for the last of a long piece; for shortening the time that keys are held, which need
not be the shortest."""
NEARBY_SILENCES = (0, 2)
"""The sostenuto pedal is allowed in silences where hands do not do, then in so many more to both sides."""
PROVED_AT_MOST = 40_000
"""Variables of a question with the sostenuto that may be proved in the work allowed; a larger one is answered bit by
bit at once."""
ASKED_WHOLE = 100
"""Stretches of a piece that is asked with the sostenuto pedal allowed everywhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A plan: pedals, silent keys, the figures left out with their weight, and how many actions it takes.

    `proved` says that no plan leaves out less. No plan that leaves out as little takes fewer actions than `bound`.
    """

    pedals: tuple[PedalSpan, ...]
    held: tuple[HeldKey, ...]
    left_out: frozenset[str] = frozenset()
    weight: int = 0
    actions: int
    bound: int
    proved: bool = True

    @property
    def rank(self) -> tuple[int, int]:
        """The less the better."""
        return self.weight, self.actions


def fewest_actions(wants: Wants, piano: Piano, end_s: float) -> Found:
    """The plan that leaves out least (essential figures first), then acts least, then holds keys for the shortest time.

    The sostenuto pedal never saves an action over holding the keys themselves, for keys must be held for it to catch:
    no plan is better than one that asks for any number of hands. So the sostenuto is tried only where a player's two
    hands cannot hold them all, and on a short piece, when that does not settle it, everywhere.
    """
    first_s = min([0.0, *(want.start_s for want in wants.wants)])
    cut = stretches(wants, first_s, end_s, merged=Pedal.DAMPER in piano.pedals)
    easy = _States(wants=wants, piano=piano, cut=cut)
    floor = easy.best()
    hard = [n for n, one in enumerate(cut) if _hands_matter(one, piano) and not _in_two_hands(floor.held, one)]
    if not hard:
        return easy.tidied(floor)
    by_hand = _States(wants=wants, piano=piano, cut=cut, hands=True, near=floor)
    tried = [(by_hand.best(), by_hand)]
    exact = tried[0][0] if Pedal.SOSTENUTO not in piano.pedals else floor
    for there in _sostenutos(tried[0][0], hard, wants, piano, cut):
        best = min(found.rank for found, _ in tried)
        everywhere = len(there) == len(cut)
        if best > floor.rank and (everywhere or best[0] > floor.weight):
            model = _States(wants=wants, piano=piano, cut=cut, hands=True, near=tried[0][0], sostenuto=there)
            tried.append((model.best(), model))
            exact = tried[-1][0] if everywhere else exact
    found, model = min(tried, key=lambda one: one[0].rank)
    found = replace(found, bound=_bound(found, floor, exact), proved=_proved(found, floor, exact))
    return _trimmed(model.tidied(found), wants, piano)


def _sostenutos(
    by_hand: Found, hard: list[int], wants: Wants, piano: Piano, cut: tuple[Stretch, ...]
) -> Iterator[frozenset[int]]:
    """The stretches in which to allow the sostenuto pedal, the fewest first; none on a piano without one."""
    if Pedal.SOSTENUTO not in piano.pedals:
        return
    lacking = {n for n, want in enumerate(wants.wants) if want.figure in by_hand.left_out}
    needy = [n for n in hard if cut[n].wants & lacking] or hard
    near = [frozenset(_around(needy, cut, piano, silences)) for silences in NEARBY_SILENCES]
    yield from dict.fromkeys([*near, frozenset(range(len(cut)))] if len(cut) <= ASKED_WHOLE else near)


def _bound(found: Found, *others: Found) -> int:
    """The greatest bound of questions that leave out as little and allow at least as much."""
    return max((one.bound for one in others if one.proved and one.weight == found.weight), default=0)


def _proved(found: Found, *others: Found) -> bool:
    """Whether no question that allows at least as much leaves out less."""
    return any(one.proved and one.weight == found.weight for one in others)


def _around(hard: Iterable[int], cut: tuple[Stretch, ...], piano: Piano, silences: int) -> Iterator[int]:
    """The stretches of the silences of `hard` and of so many more to both sides, and of the times between them."""
    silent = [_hands_matter(one, piano) for one in cut]
    for middle in hard:
        for step in (-1, 1):
            at, left = middle, 0
            while 0 <= at < len(cut):
                left += silent[at] and not silent[at - step] and at != middle
                if left > silences:
                    break
                yield at
                at += step


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
    """One question: a 0/1 variable for each pedal and key in each step, another for each figure left out.

    `hands` asks that two hands hold the keys; `sostenuto` numbers the stretches in which that pedal may be down. The
    search begins beside the plan `near`, which answers a question that allows more.
    """

    wants: Wants
    piano: Piano
    cut: tuple[Stretch, ...]
    hands: bool = False
    near: Found | None = None
    sostenuto: frozenset[int] = frozenset()
    model: Model = field(default_factory=Model)
    steps: list[tuple[Stretch | None, float]] = field(default_factory=list)
    sustainable: list[bool] = field(default_factory=list)
    damper: list[int] = field(default_factory=list)
    sustained: list[int] = field(default_factory=list)
    keys: dict[Key, list[int]] = field(default_factory=dict)
    caught: dict[Key, list[int]] = field(default_factory=dict)
    out: dict[str, int] = field(default_factory=dict)
    far: frozenset[int] = frozenset()
    pressed: dict[int, tuple[int, int]] = field(default_factory=dict)
    answer: Outcome = field(default_factory=lambda: Outcome(status=Status.OUT_OF_TIME))

    def best(self) -> Found:
        """Solve: first the least left out, then the fewest actions."""
        self._lay_steps()
        self._lay_variables()
        for number, want in enumerate(self.wants.wants):
            inside = [p for p, (stretch, _) in enumerate(self.steps) if stretch and number in stretch.wants]
            self._ring(inside, number) if want.ring else self._damp(inside, number)
        if self.sostenuto:
            self._catch()
            self._keep_far()
        if self.hands:
            self._hold_within_hands()
        return self._solved()

    def _lay_steps(self) -> None:
        first_s, last_s = self.cut[0].start_s, self.cut[-1].end_s
        most = STEPS_WITH_SOSTENUTO if self.sostenuto else STEPS
        self.steps = [(None, first_s - (most - i) * LOAD_STEP_S) for i in range(most)]
        allowed = [bool(self.sostenuto)] * most
        for number, stretch in enumerate(self.cut):
            length_s = stretch.end_s - stretch.start_s
            here = STEPS_WITH_SOSTENUTO if number in self.sostenuto else STEPS
            count = max(1, min(here, int(length_s / ACTION_S)))
            self.steps += [(stretch, stretch.start_s + i * length_s / count) for i in range(count)]
            allowed += [number in self.sostenuto] * count
        self.steps += [(None, last_s + i * LOAD_STEP_S) for i in range(most)]
        self.sustainable = [*allowed, *[bool(self.sostenuto)] * most]

    def _lay_variables(self) -> None:
        self.out = {name: self.model.boolean() for name in self.wants.figures}
        self.damper = self._switch(Pedal.DAMPER in self.piano.pedals)
        ringing = sorted({want.key for want in self.wants.wants if want.ring})
        silent = INSTRUMENTS[self.piano.instrument].silent_keys
        self.keys = {key: self._switch(silent) for key in ringing}
        for key, states in self.keys.items():
            for state, (stretch, _) in zip(states, self.steps, strict=True):
                if stretch is not None and key in stretch.played:
                    self.model.fix(state, 0)
        if self.sostenuto:
            self.sustained = self._switch(True)
            self.caught = {key: self._switch(True) for key in sorted({want.key for want in self.wants.wants})}
            for states in (self.sustained, *self.caught.values()):
                for state in self._far(states):
                    self.model.fix(state, 0)
            self.far = frozenset(state for states in (self.damper, *self.keys.values()) for state in self._far(states))

    def _switch(self, there: bool) -> list[int]:
        """One state for each step, at rest before all and after all; what is not there is always at rest."""
        states = [self.model.boolean() for _ in self.steps]
        for state in (states[0], states[-1]) if there else states:
            self.model.fix(state, 0)
        return states

    def _far(self, states: list[int]) -> Iterator[int]:
        return (state for state, near in zip(states, self.sustainable, strict=True) if not near)

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

    def _keep_far(self) -> None:
        """Where the sostenuto pedal is not asked for, the plan `near` stands."""
        if self.near is not None:
            for state, value in self._hint(self.near).items():
                if state in self.far:
                    self.model.fix(state, value)

    def _catch(self) -> None:
        """The sostenuto pedal takes what is raised when it goes down, while nothing else moves, and keeps it."""
        add, held = self.model.clause, self.sustained
        delicate = {want.key for want in self.wants.dry}
        for p, q in pairwise(range(len(self.steps))):
            if not (self.sustainable[p] or self.sustainable[q]):
                continue
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
        self.pressed = {press: change for states in switches for press, change in self._presses(states)}
        presses = [(1, press) for press in self.pressed]
        self.model.hint = {} if self.near is None else self._hint(self.near)
        self.model.objective = weigh
        least = solve(self.model, effort=EFFORT, seconds=SECONDS)
        if least.objective is None:
            return self._plain()
        proved = least.status is Status.BEST
        self.model.at_most(weigh, least.objective)
        self.model.hint = self._with_presses(least)
        self.model.objective = presses
        fewest = Outcome(status=Status.OUT_OF_TIME, bound=0)
        if not self.sostenuto or len(self.model.bounds) <= PROVED_AT_MOST:
            fewest = solve(self.model, effort=EFFORT, seconds=SECONDS)
        bound = 2 * max(0, fewest.bound or 0) if proved else 0
        self.answer = fewest if fewest.usable else least
        if fewest.status is not Status.BEST:
            self.answer = self._bit_by_bit(least, self.answer)
        return self._found(self.answer, bound=bound, proved=proved)

    def _bit_by_bit(self, least: Outcome, answer: Outcome) -> Outcome:
        """A good plan when the best is out of reach: what is left out stands, few sostenutos, then the rest."""
        presses = self.model.objective
        for out in self.out.values():
            self.model.fix(out, least.values[out])
        if self.sostenuto:
            own = frozenset(self.sustained)
            self.model.objective = [(1, press) for press, (_, after) in self.pressed.items() if after in own]
            few = solve(self.model, effort=EFFORT, seconds=SECONDS)
            if not few.usable:
                return answer
            for state in self.sustained:
                self.model.fix(state, few.values[state])
            self.model.hint = self._with_presses(few)
        self.model.objective = presses
        found = solve(self.model, effort=LONG_EFFORT, seconds=SECONDS)
        return min((one for one in (found, answer) if one.usable), key=self._count)

    def _count(self, answer: Outcome) -> int:
        """How many things go down in an answer."""
        values = answer.values
        return sum(values[after] and not values[before] for before, after in self.pressed.values())

    def _plain(self) -> Found:
        """The damper pedal down throughout and nothing dry; without a damper pedal, nothing that must ring."""
        there = Pedal.DAMPER in self.piano.pedals
        first_s, last_s = (written_s(moment) for moment in (self.cut[0].start_s, self.cut[-1].end_s))
        pedals = (PedalSpan(pedal=Pedal.DAMPER, down_s=first_s, up_s=last_s),) if there else ()
        left_out = frozenset(want.figure for want in self.wants.wants if want.ring is not there)
        weight = sum(self._weight(name) for name in left_out)
        actions = 2 * len(pedals)
        return Found(pedals=pedals, held=(), left_out=left_out, weight=weight, actions=actions, bound=0, proved=False)

    def _with_presses(self, answer: Outcome) -> dict[int, int]:
        """An answer as a hint that presses nothing in vain."""
        values = list(answer.values)
        for press, (before, after) in self.pressed.items():
            values[press] = int(values[after] and not values[before])
        return dict(enumerate(values))

    def _hint(self, plan: Found) -> dict[int, int]:
        """The states of a plan that answers a question with the same keys."""
        hint = {out: int(name in plan.left_out) for name, out in self.out.items()}
        spans: list[tuple[list[int], list[HeldKey] | list[PedalSpan]]] = [
            (states, [one for one in plan.held if one.key == key]) for key, states in self.keys.items()
        ]
        spans.append((self.damper, [span for span in plan.pedals if span.pedal is Pedal.DAMPER]))
        for states, lifts in spans:
            for state, (_, at_s) in zip(states, self.steps, strict=True):
                hint[state] = int(any(lift.down_s <= written_s(at_s) < lift.up_s for lift in lifts))
        return hint

    def tidied(self, found: Found) -> Found:
        """The same plan, its keys held for a shorter time where the search finds how; a plan as good as none other."""
        if found.actions != found.bound or not self.answer.usable:
            return found
        self.model.at_most([(1, press) for press in self.pressed], found.actions // 2)
        self.model.hint = self._with_presses(self.answer)
        self.model.objective = [*self._key_time()]
        tidy = solve(self.model, effort=TIDY_EFFORT, seconds=SECONDS, by_core=False)
        again = self._found(tidy, bound=found.bound, proved=found.proved) if tidy.usable else found
        return again if again.rank == found.rank else found

    def _found(self, answer: Outcome, *, bound: int, proved: bool) -> Found:
        pedals = (*self._spans(Pedal.DAMPER, answer), *self._spans(Pedal.SOSTENUTO, answer))
        held = tuple(
            HeldKey(key=key, down_s=down_s, up_s=up_s)
            for key, states in self.keys.items()
            for down_s, up_s in self._on(states, answer)
        )
        left_out = frozenset(name for name, out in self.out.items() if answer.values[out])
        weight = sum(self._weight(name) for name in left_out)
        actions = 2 * (len(pedals) + len(held))
        return Found(
            pedals=pedals,
            held=held,
            left_out=left_out,
            weight=weight,
            actions=actions,
            bound=min(bound, actions),
            proved=proved,
        )

    def _weight(self, name: str) -> int:
        return ESSENTIAL_WEIGHT if name in self.wants.essential else 1

    def _key_time(self) -> Iterator[tuple[int, int]]:
        """Whole ms, rounded up, for each key in each step."""
        for p, q in pairwise(range(len(self.steps))):
            length_ms = 1 + whole_ms(self.steps[q][1] - self.steps[p][1])
            for states in self.keys.values():
                yield length_ms, states[p]

    def _presses(self, states: list[int]) -> Iterator[tuple[int, tuple[int, int]]]:
        """A variable for each change of step, true when the thing goes down there, with the two states."""
        for p, q in pairwise(states):
            literal = self.model.boolean()
            self.model.clause([literal, p, ~q])
            yield literal, (p, q)

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
