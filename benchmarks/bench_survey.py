"""What a tape survey costs: twenty readings to a piano that can be cast, and the filling-in of its courses alone."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

from rimside.files.measure_tape import shipped
from rimside.piano.pattern import Pattern
from rimside.piano.readings import Counts, Reading, steps
from rimside.piano.survey import build
from rimside.piano.tape import Known, surveyed
from rimside.piano.tape_fit import expected_mm

RUNS = 15
TARGET_S = 0.5
_NONE = Counts(last_keys=(88,), last_single=0, last_double=0, first_plain=1, last_damper=1, struts_after=())


def main() -> list[tuple[str, float]]:
    """Print and return medians in s."""
    surveys = shipped()
    known = _readings()
    survey_s = _median_s(lambda: surveyed(known, surveys))
    build_s = _median_s(lambda: build(surveys[1]))
    print(f"readings -> survey -> piano {1000 * survey_s:7.1f} ms (target at most {1000 * TARGET_S:.0f} ms)")
    print(f"build() of a survey         {1000 * build_s:7.1f} ms")
    return [("readings to piano", survey_s), ("build", build_s)]


def _readings() -> Known:
    """The form's first part, as the 210 cm grand has it, for a piano that is said to be like the 170 cm one."""
    middle = shipped()[1]
    counts = Pattern(survey=middle, counts=_NONE, length_mm=middle.length_mm).own
    names = [step.name for step in steps(counts) if step.core and step.name != "width"]
    values = expected_mm(Pattern(survey=middle, counts=counts, length_mm=middle.length_mm), names)
    readings = tuple(Reading(name=name, mm=round(mm), plus_minus_mm=3.0) for name, mm in values.items())
    return Known(name="hall", title="Hall", counts=counts, readings=readings, like="grand_170")


def _median_s(work: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS + 1):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return statistics.median(times[1:])


if __name__ == "__main__":
    main()
