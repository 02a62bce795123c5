"""`python -m tests.fuzz`: cases for so many minutes, findings kept as files, the ledger carried on.

Without options: a minute of all kinds, from the first seeds that the ledger does not know. The ledger is only written
with --enter, and never by a run that starts from seeds of its own (--first), as CI does to be reproducible.
"""

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.fuzz.case import KINDS
from tests.fuzz.ledger import Tally, digest, entered, next_seed, read_ledger, totals, write_ledger
from tests.fuzz.team import Plan, run
from tests.fuzz.worker import done

# Of plausible seats so many make pieces, counted from so many seats on.
LEAST_MADE, ENOUGH_SEATS = 0.98, 50


def _arguments(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--minutes", type=float, default=1.0, help="how long; default 1")
    parser.add_argument("--kind", action="append", choices=KINDS, help="only these kinds; may be given more than once")
    parser.add_argument("--workers", type=int, default=1, help="worker processes; default 1")
    parser.add_argument("--first", type=int, help="first seed of every kind, instead of the ledger's next")
    parser.add_argument("--count", action="append", default=[], metavar="KIND=N", help="at most so many of a kind")
    parser.add_argument("--enter", action="store_true", help="enter the run into tests/fuzz/ledger.json")
    parser.add_argument("--findings", type=Path, default=Path("out/fuzz"), help="folder for findings; default out/fuzz")
    parser.add_argument("--replay", metavar="KIND:SEED", help="do one case here, and print what it comes to")
    return parser.parse_args(words)


def main(words: Sequence[str] | None = None) -> int:
    """Exit 0: nothing found. 1: findings, told and kept."""
    given = _arguments(words)
    if given.replay:
        return _replay(given.replay)
    ledger = read_ledger()
    kinds = given.kind or list(KINDS)
    first = {k: next_seed(ledger.get(k, [])) if given.first is None else given.first for k in kinds}
    counts = {word.split("=")[0]: int(word.split("=")[1]) for word in given.count}
    tallies = {kind: Tally() for kind in kinds}

    def tell(outcome: dict[str, Any]) -> None:
        tallies[outcome["kind"]].add(outcome)
        if outcome.get("findings"):
            _keep(outcome, given.findings)

    past = run(Plan(first, counts, 60.0 * given.minutes), workers=given.workers, tell=tell)
    found = 0
    for kind in kinds:
        found += _told(kind, (first[kind], past[kind]), tallies[kind])
    if given.enter and given.first is None:
        # Another run may have entered its kinds meanwhile.
        ledger = read_ledger()
        code, cases = digest("meshes", "flatten"), digest("tests/fuzz")
        for kind in kinds:
            entered(ledger.setdefault(kind, []), (first[kind], past[kind]), tallies[kind], code, cases)
        write_ledger(ledger)
        print("in all:", ", ".join(f"{count} {kind}" for kind, count in totals(ledger).items()))
    return 1 if found else 0


def _replay(word: str) -> int:
    kind, _, seed = word.partition(":")
    outcome = done(kind, int(seed))
    print(outcome.text)
    print(json.dumps({k: v for k, v in outcome.as_json().items() if k != "text"}, indent=1, ensure_ascii=False))
    return 1 if outcome.findings else 0


def _keep(outcome: dict[str, Any], folder: Path) -> None:
    """A finding as a file: what it is, how to see it again, and the input."""
    folder.mkdir(parents=True, exist_ok=True)
    kind, seed = outcome["kind"], outcome["seed"]
    again = f"python -m tests.fuzz --replay {kind}:{seed}"
    lines = [*(f"# {words}" for words in outcome["findings"]), f"# {again}", outcome.get("text", "")]
    (folder / f"{kind}-{seed}.txt").write_text("\n".join(lines), encoding="utf-8", errors="surrogateescape")
    print(f"FOUND {kind} {seed}: {outcome['findings'][0][:300]}", file=sys.stderr, flush=True)


def _told(kind: str, seeds: tuple[int, int], tally: Tally) -> int:
    """Print what a kind came to; how many findings there are."""
    results = ", ".join(f"{count} {word}" for word, count in tally.results.most_common())
    print(f"{kind} {seeds[0]} to {seeds[1] - 1}: {results or 'none'}")
    for code, numbers in sorted(tally.refused.items()):
        print(f"  refused with {code}: seeds {', '.join(map(str, numbers))}")
    for words, numbers in tally.found.items():
        print(f"  FOUND {words}: seeds {', '.join(map(str, numbers))}")
    total, made = sum(tally.results[word] for word in ("made", "refused", "fault")), tally.results["made"]
    too_few = kind == "jobs" and total >= ENOUGH_SEATS and made < LEAST_MADE * total
    if too_few:
        print(f"  FOUND only {made} of {total} plausible seats make pieces")
    return len(tally.found) + too_few


if __name__ == "__main__":
    sys.exit(main())
