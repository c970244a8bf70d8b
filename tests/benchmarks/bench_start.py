"""How long `shallows --help` takes against a bare interpreter: ratio of medians, runs interleaved."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

ROUNDS = 15
CANDIDATES = {
    "bare interpreter": [sys.executable, "-c", "pass"],
    "shallows --help": [sys.executable, "-m", "habitat.cli", "--help"],
    "shallows --version": [sys.executable, "-m", "habitat.cli", "--version"],
    "import habitat, layers": [sys.executable, "-c", "import habitat, layers"],
}


def main() -> None:
    """Print a line for each candidate."""
    seconds: dict[str, list[float]] = {name: [] for name in CANDIDATES}
    for _ in range(ROUNDS):
        for name, command in CANDIDATES.items():
            start = time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            seconds[name].append(time.perf_counter() - start)
    bare = statistics.median(seconds["bare interpreter"])
    for name, taken in seconds.items():
        print(f"{name:24s} {1000 * statistics.median(taken):6.0f} ms  {statistics.median(taken) / bare:5.2f} x bare")


if __name__ == "__main__":
    main()
