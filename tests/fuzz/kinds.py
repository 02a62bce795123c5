"""`python -m tests.fuzz.kinds`: starter sheets of every kind with all their lengths varied, and how many make pieces.

With `--kind` also some forms that have no starter sheet of their own, from their example sheets (`FORMS`).

Every length of a pad is varied by itself, uniformly by up to 30 %, angles by up to 5 degrees; the points of a profile
keep their order, as the tape reads them: their places share one factor, each height has its own. What a sheet says of
paper, triangles and leather stays. A seat that is refused has to name the number to change. It is a command rather
than a test: 25 seats of every kind take a quarter of an hour.
"""

import argparse
import os
import random
import sys
import tempfile
import tomllib
import traceback
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from meshes.base.problems import ProblemError
from meshes.sheet.starter import KINDS, starter_text

BY, BY_DEGREES = 0.3, 5.0
EXAMPLES = Path(__file__).parents[2] / "examples"
# Forms by the sheet of their example.
FORMS = {
    "block": "block_seat/seat.toml",
    "fly": "jump_back/jump_back.toml",
    "knife": "knife_edge/cushion.toml",
    "waterfall": "waterfall_seat/seat.toml",
}
# Committed before the forms were first tried with them.
FIRST_SEED, EACH = 14_000, 25
# The least share of all seats, and of those of any kind, that are to make pieces.
LEAST_MADE, LEAST_OF_A_KIND = 0.97, 0.92
ANGLES = frozenset({"rake", "facing", "turn", "tilt"})
# Counts, shares, and what belongs to paper, triangles and leather rather than to the seat's shape.
KEPT = frozenset({"count", "fan", "density", "joins", "compression_kpa", "rate_kpa_per_mm", "coil_rate", "tension"})
SHAPED = frozenset({"pad"})


@dataclass(frozen=True)
class Tried:
    """What one varied seat came to: nothing told means that it made pieces."""

    kind: str
    seed: int
    told: tuple[str, ...]
    names_a_number: bool


def varied(kind: str, seed: int, mesh: float) -> str:
    """The starter sheet of a kind with every length of its pads varied, as TOML."""
    dice = random.Random(f"{kind} {seed}")
    text = (EXAMPLES / FORMS[kind]).read_text(encoding="utf-8") if kind in FORMS else starter_text(kind)
    sheet = tomllib.loads(text)
    for key in SHAPED & sheet.keys():
        sheet[key] = [_table(row, dice) for row in sheet[key]]
    sheet.setdefault("output", {})["mesh"] = mesh
    return "\n".join(_written(sheet, "")) + "\n"


def _table(table: Mapping[str, Any], dice: random.Random) -> dict[str, Any]:
    return {key: value if key in KEPT else _value(key, value, dice) for key, value in table.items()}


def _value(key: str, value: Any, dice: random.Random) -> Any:
    if isinstance(value, bool | str):
        return value
    if isinstance(value, int | float):
        return value + dice.uniform(-BY_DEGREES, BY_DEGREES) if key in ANGLES else value * _factor(dice)
    if isinstance(value, Mapping):
        return _table(value, dice)
    if value and all(isinstance(row, Mapping) for row in value):
        return [_table(row, dice) for row in value]
    if value and all(isinstance(row, Sequence) and not isinstance(row, str) for row in value):
        along = _factor(dice)
        return [[row[0] * along, *(number * _factor(dice) for number in row[1:])] for row in value]
    return [number * _factor(dice) if isinstance(number, int | float) else number for number in value]


def _factor(dice: random.Random) -> float:
    return dice.uniform(1.0 - BY, 1.0 + BY)


def _written(table: Mapping[str, Any], path: str) -> Iterable[str]:
    tables = {k: v for k, v in table.items() if isinstance(v, Mapping) or _is_rows(v)}
    for key, value in table.items():
        if key not in tables:
            yield f"{key} = {_text(value)}"
    for key, value in tables.items():
        name = f"{path}{key}"
        for row in value if _is_rows(value) else [value]:
            yield f"\n[[{name}]]" if _is_rows(value) else f"\n[{name}]"
            yield from _written(row, f"{name}.")


def _is_rows(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, Mapping) for row in value)


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[" + ", ".join(_text(item) for item in value) + "]"
    return f"{value:.6g}"


def tried(kind: str, seed: int, mesh: float) -> Tried:
    """One varied seat through the whole job."""
    from flatten.job.make import make

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{kind}.toml"
        path.write_text(varied(kind, seed, mesh), encoding="utf-8")
        try:
            job = make(path)
        except ProblemError as refused:
            texts = tuple(f"{p.code} {p.text}" for p in refused.problems)
            return Tried(kind, seed, texts, all(any(sign.isdigit() for sign in p.text) for p in refused.problems))
        except Exception:
            # A fault of the program: it counts as a seat without pieces, and the others are tried all the same.
            return Tried(kind, seed, ("crashed: " + " | ".join(traceback.format_exc().splitlines()[-9:]),), False)
    loose = tuple(f"not certified: {name}" for name, flat in job.flats.items() if not flat.certified)
    return Tried(kind, seed, loose, False)


def main(words: Sequence[str] | None = None) -> int:
    """Exit 0: enough seats make pieces. 1: too few, or a refusal that names no number."""
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz.kinds", description=__doc__)
    parser.add_argument(
        "--kind", action="append", choices=(*KINDS, *FORMS), help="only these kinds; may be given more than once"
    )
    parser.add_argument("--each", type=int, default=EACH, help=f"seats of every kind; default {EACH}")
    parser.add_argument("--first", type=int, default=FIRST_SEED, help=f"first seed; default {FIRST_SEED}")
    parser.add_argument("--mesh", type=float, default=20.0, help="size of triangles in mm; default 20")
    parser.add_argument("--workers", type=int, default=1, help="worker processes; default 1")
    given = parser.parse_args(words)
    kinds = given.kind or list(KINDS)
    cases = [(kind, seed, given.mesh) for seed in range(given.first, given.first + given.each) for kind in kinds]
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(given.workers) as pool:
        results = []
        for result in pool.map(tried, *zip(*cases, strict=True)):
            results.append(result)
            if result.told:
                print(f"{result.kind} {result.seed}: {' | '.join(result.told)}"[:900], flush=True)
    return _told(kinds, results)


def _told(kinds: Sequence[str], results: Sequence[Tried]) -> int:
    made = Counter(result.kind for result in results if not result.told)
    count = Counter(result.kind for result in results)
    for kind in kinds:
        print(f"{kind:8s} {made[kind]:3d} of {count[kind]:3d} made pieces")
    share = made.total() / max(len(results), 1)
    print(f"all      {made.total():3d} of {len(results):3d}: {100.0 * share:.1f} %")
    dumb = [result for result in results if result.told and not result.names_a_number]
    good = share >= LEAST_MADE and all(made[kind] >= LEAST_OF_A_KIND * count[kind] for kind in kinds)
    return 0 if good and not dumb else 1


if __name__ == "__main__":
    sys.exit(main())
