"""Every benchmark, one after another: `make bench`; `make bench-quick` leaves out what takes long."""

from __future__ import annotations

import argparse

from benchmarks import bench_casting, bench_families, bench_reading, bench_start


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="Run the benchmarks.")
    parser.add_argument("--quick", action="store_true", help="shorter families, within ten minutes")
    quick = ["--quick"] if parser.parse_args().quick else []
    for title, bench in (("Start", bench_start), ("Reading", bench_reading), ("Casting", bench_casting)):
        print(f"\n== {title}: {bench.__doc__}")
        bench.main()
    print(f"\n== Families: {bench_families.__doc__}")
    bench_families.main(quick)


if __name__ == "__main__":
    main()
