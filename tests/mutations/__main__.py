"""`python -m tests.mutations`: small faults in a copy of the code, and how many the tests of the same folder notice.

So many faults of every folder of the house are drawn by the seed, each on a line of its own. Each is put into a copy of
the tree, where those of the folder's own tests run that can notice it. Which lines a test reaches is found first, and
kept among the machine's temporary files until code or tests change. Faults that change nothing are argued one by one in
equivalent.toml.
"""

import argparse
import random
import re
import sys
import tomllib
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from queue import SimpleQueue

from tests.mutations.sites import Site, sites
from tests.mutations.trial import ROOT, Copy, copied

EQUIVALENT = Path(__file__).with_name("equivalent.toml")
# So many of a hundred are to be noticed.
LEAST_KILLED = 0.9


def house() -> list[str]:
    """Folders of the house, as DEVELOPERS.md lists them."""
    block = re.search(r"```house\n(.*?)```", (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.S)
    return [line.split()[0] for line in block.group(1).splitlines() if line[:1].strip()] if block else []


def equivalents() -> set[tuple[str, str, str]]:
    entries = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8")).get("equivalent", [])
    return {(e["file"], e["line"], e["change"]) for e in entries if e["reason"]}


def folder_sites(folder: str) -> list[Site]:
    files = sorted((ROOT / Path(*folder.split("."))).glob("*.py"))
    return [site for path in files for site in sites(ROOT, str(path.relative_to(ROOT)))]


def drawn(folder: str, seed: int, count: int) -> list[Site]:
    """Faults of a folder by seed, no two on one line, none that is known to change nothing."""
    every, known, found = folder_sites(folder), equivalents(), {}
    random.Random(f"{seed} {folder}").shuffle(every)
    for site in every:
        if site.key not in known and len(found) < count:
            found.setdefault((site.file, site.line), site)
    return list(found.values())


def _arguments(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__)
    parser.add_argument("--seed", type=int, required=True, help="which faults are drawn")
    parser.add_argument("--folder", action="append", help="only this folder, e.g. meshes.settle; may be repeated")
    parser.add_argument("--each", type=int, default=5, help="faults a folder; default 5")
    parser.add_argument("--workers", type=int, default=1, help="trials at a time; default 1")
    parser.add_argument("--only", type=int, action="append", help="only the n-th fault of a folder; may be repeated")
    parser.add_argument("--show", action="store_true", help="print the faults and try none")
    return parser.parse_args(words)


def main(words: Sequence[str] | None = None) -> int:
    """Exit 0: enough of the faults are noticed. 1: too few, or a folder's tests fail without any fault."""
    given = _arguments(words)
    total: Counter[str] = Counter()
    with ExitStack() as stack:
        copies: SimpleQueue[Copy] = SimpleQueue()
        for _ in range(0 if given.show else given.workers):
            copies.put(stack.enter_context(copied()))
        for folder in given.folder or house():
            chosen = list(enumerate(drawn(folder, given.seed, given.each), 1))
            chosen = [(n, site) for n, site in chosen if not given.only or n in given.only]
            total += _folder(folder, chosen, copies, given)
    if given.show:
        return 0
    tried = sum(total.values())
    print(f"in all: {total['killed'] + total['time']} of {tried} noticed")
    return 0 if tried and total["killed"] + total["time"] >= LEAST_KILLED * tried and not total["fault"] else 1


def _folder(
    folder: str, chosen: list[tuple[int, Site]], copies: "SimpleQueue[Copy]", given: argparse.Namespace
) -> "Counter[str]":
    """Try one folder's faults and print them; how many came to what."""
    if given.show:
        for n, site in chosen:
            print(_line(folder, n, "", site))
        return Counter()
    copy = copies.get()
    reached = copy.reached(folder)
    copies.put(copy)
    if reached is None:
        print(f"{folder}: its tests fail without any fault", flush=True)
        return Counter(fault=len(chosen) or 1)

    def one(numbered: tuple[int, Site]) -> str:
        copy = copies.get()
        try:
            outcome = copy.tried(numbered[1], reached)
        finally:
            copies.put(copy)
        print(_line(folder, numbered[0], outcome, numbered[1]), flush=True)
        return outcome

    with ThreadPoolExecutor(given.workers) as pool:
        counts = Counter(pool.map(one, chosen))
    killed, seconds = counts["killed"] + counts["time"], sum(reach.seconds for reach in reached.values())
    print(f"{folder}: {killed} of {len(chosen)} noticed (tests without a fault: {seconds:.0f} s)", flush=True)
    return counts


def _line(folder: str, number: int, outcome: str, site: Site) -> str:
    return f"{outcome or 'fault':9}{folder}:{number}  {site.file}:{site.line}\n    {site.text}\n    {site.change}"


if __name__ == "__main__":
    sys.exit(main())
