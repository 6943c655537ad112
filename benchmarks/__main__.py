"""Every benchmark, one after another: `make bench`."""

from __future__ import annotations

from benchmarks import bench_casting, bench_reading, bench_start


def main() -> None:
    """Print the three tables."""
    for title, bench in (("Start", bench_start), ("Reading", bench_reading), ("Casting", bench_casting)):
        print(f"\n== {title}: {bench.__doc__}")
        bench.main()


if __name__ == "__main__":
    main()
