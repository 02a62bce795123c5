"""The ledger: which seeds were done with which code, and what they came to. It is committed, and adds up over runs.

A digest of the sources stands for the version, so that the ledger needs no commit to point at. A line for each run of
a kind; runs that go on from each other with the same sources become one line.
"""

import hashlib
import json
import re
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
LEDGER = Path(__file__).with_name("ledger.json")
_SOURCES = ("*.py", "*.toml", "*.json")
_KEPT_SEEDS = 12


def digest(*folders: str) -> str:
    """Twelve hexadecimal digits that change with any source file in these folders of the project."""
    whole = hashlib.sha256()
    files = {p for folder in folders for pattern in _SOURCES for p in (ROOT / folder).rglob(pattern)}
    for path in sorted(files - {LEDGER}):
        whole.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes() + b"\0")
    return whole.hexdigest()[:12]


@dataclass
class Tally:
    """What the cases of one kind came to. refused and found: first seeds by code or by words."""

    results: Counter[str] = field(default_factory=Counter)
    variations: Counter[str] = field(default_factory=Counter)
    refused: dict[str, list[int]] = field(default_factory=dict)
    found: dict[str, list[int]] = field(default_factory=dict)

    def add(self, outcome: dict[str, Any]) -> None:
        """Count one outcome as a worker tells it."""
        self.results[outcome["result"]] += 1
        self.variations.update(outcome.get("variations", []))
        # What differs in numbers only is one finding.
        kinds = [(self.found, re.sub(r"\d+", "#", words)[:160]) for words in outcome.get("findings", [])]
        if outcome["kind"] == "jobs" and outcome["result"] == "refused":
            kinds += [(self.refused, code) for code in outcome.get("codes", [])]
        for table, key in kinds:
            seeds = table.setdefault(key, [])
            if len(seeds) < _KEPT_SEEDS and outcome["seed"] not in seeds:
                seeds.append(outcome["seed"])


def read_ledger(path: Path = LEDGER) -> dict[str, list[dict[str, Any]]]:
    """Lines by kind, oldest first; empty when there is no ledger."""
    return dict(json.loads(path.read_text())) if path.exists() else {}


def next_seed(lines: list[dict[str, Any]]) -> int:
    """The first seed that no line of a kind has done."""
    return max((line["seeds"][1] for line in lines), default=0)


def entered(lines: list[dict[str, Any]], seeds: tuple[int, int], tally: Tally, code: str, cases: str) -> None:
    """Add a run over seeds [first, past) to the lines of its kind."""
    if seeds[0] == seeds[1]:
        return
    last = lines[-1] if lines else None
    goes_on = last and (last["code"], last["cases"], last["seeds"][1]) == (code, cases, seeds[0])
    line = last if last and goes_on else {"code": code, "cases": cases, "seeds": [*seeds], "results": {}}
    if not goes_on:
        lines.append(line)
    line["seeds"][1] = seeds[1]
    line["results"] = dict(Counter(line["results"]) + tally.results)
    for key in ("refused", "found"):
        table = line.get(key, {})
        for words, numbers in getattr(tally, key).items():
            table[words] = sorted({*table.get(words, []), *numbers})[:_KEPT_SEEDS]
        if table:
            line[key] = table


def write_ledger(ledger: dict[str, list[dict[str, Any]]], path: Path = LEDGER) -> None:
    """One line of the file a run, so that a change of it reads well."""
    kinds = []
    for kind, lines in ledger.items():
        rows = ",\n".join("  " + json.dumps(line, ensure_ascii=False) for line in lines)
        kinds.append(f' "{kind}": [\n{rows}\n ]')
    path.write_text("{\n" + ",\n".join(kinds) + "\n}\n", encoding="utf-8")


def totals(ledger: dict[str, list[dict[str, Any]]]) -> dict[str, int]:
    """How many cases of every kind were ever done."""
    return {kind: sum(line["seeds"][1] - line["seeds"][0] for line in lines) for kind, lines in ledger.items()}
