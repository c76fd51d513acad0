"""Measure the reliability goals and print each with its bar, what was seen, and whether it is met.

    python -m tests.reliability                  all of them; about an hour on two idle cores
    python -m tests.reliability --quick          a few of everything, some minutes
    python -m tests.reliability --only R5 R15    these only
"""

import argparse
import signal
import sys
import time

from tests.reliability.goals import GOALS


def main() -> int:
    """Print a line for each goal as it is measured; exit code 1 where a bar is not met."""
    parser = argparse.ArgumentParser(prog="python -m tests.reliability", description="Measure the reliability goals.")
    parser.add_argument("--quick", action="store_true", help="a few of everything")
    parser.add_argument("--only", nargs="+", metavar="R5", choices=[goal.name for goal in GOALS], help="these only")
    asked = parser.parse_args()
    # A shell that starts this in the background lets Ctrl-C be ignored, here and in all that is started from here.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    missed = []
    for goal in GOALS:
        if asked.only and goal.name not in asked.only:
            continue
        start = time.perf_counter()
        seen = goal.measure(asked.quick)
        verdict = {True: "met", False: "NOT MET", None: "not run"}[seen.met]
        print(f"{goal.name:<4} {verdict:<8} {goal.what} (bar: {goal.bar})\n     {seen.told} [{time.perf_counter() - start:.0f} s]", flush=True)
        missed += [goal.name] if seen.met is False else []
    print("All that was measured is met." if not missed else f"Not met: {', '.join(missed)}.")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
