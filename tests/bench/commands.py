"""Seconds of the command line on the helm bench, against what a trimmer is told to expect."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

SHEET = Path(__file__).parents[2] / "examples" / "helm_bench" / "bench.toml"
ALLOWED = {"check": 5.0, "make": 10.0}


def command_times() -> dict[str, float]:
    """Seconds of `trimloft check` and `trimloft make`, the better of two runs each."""
    print()
    found = {}
    for name, allowed in ALLOWED.items():
        runs = []
        for _ in range(2):
            with tempfile.TemporaryDirectory() as folder:
                extra = ["--out", str(Path(folder) / "out")] if name == "make" else []
                begin = time.perf_counter()
                command = [sys.executable, "-m", "flatten", name, str(SHEET), "--quiet", *extra]
                subprocess.run(command, check=True, capture_output=True)
                runs.append(time.perf_counter() - begin)
        found[name] = min(runs)
        print(f"trimloft {name} on the helm bench: {found[name]:.1f} s, allowed {allowed:.0f} s")
    return found
