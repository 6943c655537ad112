"""Every benchmark, one after another: `make bench`; `make bench-quick` leaves out what takes long."""

from __future__ import annotations

import argparse

from benchmarks import (
    bench_casting,
    bench_families,
    bench_follow,
    bench_page,
    bench_pedals,
    bench_photo,
    bench_pins,
    bench_reading,
    bench_refits,
    bench_start,
    bench_survey,
)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Run the benchmarks.")
    parser.add_argument("--quick", action="store_true", help="shorter families, within ten minutes")
    quick = parser.parse_args().quick
    longer = () if quick else (("Photographs", bench_photo), ("Reading", bench_reading), ("Casting", bench_casting))
    for title, bench in (("Start", bench_start), ("Surveys", bench_survey), *longer):
        print(f"\n== {title}: {bench.__doc__}")
        bench.main()
    print(f"\n== Families: {bench_families.__doc__}")
    bench_families.main(["--quick"] if quick else [])
    print(f"\n== Pedals: {bench_pedals.__doc__}")
    bench_pedals.main()
    print(f"\n== Pins: {bench_pins.__doc__}")
    bench_pins.main(["--seconds", "20"] if quick else [])
    print(f"\n== Followers: {bench_follow.__doc__}")
    bench_follow.main()
    print(f"\n== Page: {bench_page.__doc__}")
    bench_page.main()
    print(f"\n== Refits: {bench_refits.__doc__}")
    bench_refits.main()


if __name__ == "__main__":
    main()
