"""`python -m tests.faults [--full] [--seed N] [name ...]`: every fault, or those named, in a table."""

from __future__ import annotations

import argparse
import os
import sys
import time

from tests.faults.faults import FAULTS
from tests.faults.outcome import HEAD, Outcome, table
from tests.faults.servers import missing, no_small_disk
from tests.faults.stack import servers


def main() -> int:
    """Run faults one after another and print what came out; 0 when every promise held."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description="What breaks, and what holds.")
    parser.add_argument("--full", action="store_true", help="the full size, about an hour; else the fast one")
    parser.add_argument("--seed", type=int, default=int(time.time()), help="what all chance follows from")
    parser.add_argument("names", nargs="*", choices=[[], *FAULTS], help="faults; all where none is named")
    asked = parser.parse_args()
    if missing():
        sys.exit(f"The faults need real servers, but {missing()}.")
    outcomes: list[Outcome] = []
    print(f"seed {asked.seed}, load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores\n{HEAD}", flush=True)
    with servers() as ours:
        for name in asked.names or FAULTS:
            fault = FAULTS[name]
            if fault.needs_disk and no_small_disk():
                print(f"{name}: left out: {no_small_disk()}", flush=True)
                continue
            try:
                outcomes.append(fault.run(ours, asked.seed, is_full=asked.full))
            except Exception as error:  # one fault that cannot be shown must not hide the others
                outcomes.append(
                    Outcome(name, asked.seed, wrong=[f"{type(error).__name__}: {str(error)[:500]}"]).ended()
                )
            print(outcomes[-1], flush=True)
            for said in outcomes[-1].wrong[:5]:
                print(f"    {said}", flush=True)
    print(f"\nload {os.getloadavg()[0]:.1f} at the end\n{table(outcomes)}")
    return 0 if all(one.holds for one in outcomes) else 1


if __name__ == "__main__":
    sys.exit(main())
