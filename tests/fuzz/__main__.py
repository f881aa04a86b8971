"""`python -m tests.fuzz --runs 100000`: changed inputs for every reader, and a table of what came.

In: arguments. Out: a table on standard output; inputs that went wrong under `--keep`; status 0 if
none did, else 1.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from tabulate import tabulate

from tests.fuzz.running import HEAD, run, shared_out, table
from tests.fuzz.targets import TARGETS

KEEP = Path("fuzz-found")


def _asked(args: list[str] | None) -> argparse.Namespace:
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("--runs", type=int, default=1_000, help="inputs, all readers together")
    asked.add_argument("--seed", type=int, default=1, help="another seed gives other inputs")
    asked.add_argument("--only", choices=TARGETS, action="append", help="this reader alone")
    asked.add_argument("--keep", type=Path, default=KEEP, help="where what goes wrong is written")
    asked.add_argument(
        "--guided", type=float, metavar="SECONDS",
        help="led by what the code does (needs atheris, the extra `fuzz`), so long for each reader",
    )  # fmt: skip
    return asked.parse_args(args)


def main(args: list[str] | None = None) -> int:
    """Run them all, and print the table."""
    asked = _asked(args)
    names = asked.only or [*TARGETS]
    if asked.guided:
        from tests.fuzz.guided import guided

        return max(guided(name, asked.guided, asked.keep) for name in names)
    rows = []
    for name, runs in shared_out(asked.runs, names).items():
        begun = time.monotonic()
        rows.append(run(name, runs, asked.seed, asked.keep, lambda text: print(text, flush=True)))
        took = time.monotonic() - begun
        print(f"{name}: {runs} inputs in {took:.0f} s", file=sys.stderr, flush=True)
    print(tabulate(table(rows), HEAD, tablefmt="simple", disable_numparse=True))
    return int(any(row.counts[kind] for row in rows for kind in ("broken", "slow", "large")))


if __name__ == "__main__":
    sys.exit(main())
