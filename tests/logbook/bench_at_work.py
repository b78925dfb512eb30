"""A bench that measures part after part and says what is kept, until it is killed.

``python -m tests.logbook.bench_at_work ADDRESS FIRST LAST BENCH SIZE``: keeps parts FIRST to LAST,
SIZE at once, and prints each serial once it is kept.
"""

from __future__ import annotations

import sys
from dataclasses import replace

from benchapp.logbook import Choices, open_logbook
from tests.logbook.conftest import make_entry


def main(address, first, last, bench, size):
    """Keep the parts."""
    entry = make_entry()
    with open_logbook(address, choices=Choices(bench=bench, patience=120, watch=tell)) as book:
        print("ready", flush=True)
        for start in range(int(first), int(last) + 1, int(size)):
            numbers = range(start, min(start + int(size), int(last) + 1))
            book.add_all(
                [
                    replace(entry, serial=f"{bench}-{number}", raw=entry.raw + b"#%d\n" % number)
                    for number in numbers
                ]
            )
            print(" ".join(f"{bench}-{number}" for number in numbers), flush=True)


def tell(standing):
    """Say where the bench stands."""
    print(f"standing {standing.state}", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
