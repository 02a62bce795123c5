"""The fuzz harness finds what is planted, does the same for the same seed, and its ledger adds up."""

import re
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from flatten.pieces.piece import MarkKind
from meshes.base.problems import Problem
from tests.fuzz import worker
from tests.fuzz.case import Outcome, complaints
from tests.fuzz.command import USERS, Bench
from tests.fuzz.jobs import sheet_of
from tests.fuzz.jobs import written as written_job
from tests.fuzz.ledger import Tally, entered, next_seed, read_ledger, totals, write_ledger
from tests.fuzz.meshes import mesh_file
from tests.fuzz.papers import steps, svg_drawing
from tests.fuzz.placed import SAME_MM, _unlike_mm, placed_pieces
from tests.fuzz.sheets import read, sheet_bytes
from tests.fuzz.shrink import same_finding, shrunk
from tests.fuzz.team import Hand
from tests.fuzz.verify import verify
from tests.samples import sample_job


@pytest.fixture
def written(tmp_path):
    job = sample_job()
    written_job(job, tmp_path / "out")
    return job, tmp_path / "out"


def change(path: Path, pattern: str, new) -> None:
    """Put another text where a pattern first stands; the file must hold it."""
    # Drawings are not all UTF-8; here every byte is a character.
    text = path.read_text(encoding="latin-1")
    changed = re.sub(pattern, new, text, count=1, flags=re.S)
    assert changed != text, "the case changes something"
    path.write_text(changed, encoding="latin-1")


def shifted(by: float):
    """Move every second number of the matched path by so many mm."""

    def move(match: re.Match) -> str:
        return re.sub(r",(-?[\d.]+)", lambda m: f",{float(m[1]) + by:.4f}", match[0])

    return move


def test_what_the_program_writes_holds(written):
    assert verify(*written) == []


def test_a_piece_is_found_where_it_is_drawn_though_another_is_nearly_alike(written):
    """Strips of pleats differ by a hundredth of a millimetre: the first of them must not be taken for the last."""
    job, out = written
    drawing, _ = svg_drawing(out / "patterns.svg")
    piece = job.pieces[0]
    (own,) = [k for k, sew in enumerate(drawing["sew"]) if _unlike_mm(sew.points, piece.sew) < SAME_MM]
    twin = replace(drawing["sew"][own], points=drawing["sew"][own].points * (1.0 + 1e-5) + [900.0, 0.0])
    assert _unlike_mm(twin.points, piece.sew) < SAME_MM
    found, _ = placed_pieces(job, {**drawing, "sew": [twin, *drawing["sew"]]})
    assert found[piece.panels[0]].sew == pytest.approx(drawing["sew"][own].points)


LAYER = r'<g class="{}".*?</g>'
ROW = r'<path d="M [^"]*"'


@pytest.mark.parametrize(
    ("file", "pattern", "new", "words"),
    [
        (
            "patterns.svg",
            LAYER.format("notches").replace(".*?</g>", ".*?" + ROW),
            shifted(2.0),
            "slits belong to no mark",
        ),
        ("patterns.svg", LAYER.format("sew").replace(".*?</g>", ".*?" + ROW), shifted(0.2), "allowance"),
        ("patterns.svg", LAYER.format("cut").replace(".*?</g>", ".*?" + ROW), shifted(-120.0), "overlap"),
        ("patterns.svg", r'width="[\d.]+mm"', 'width="500mm"', "not 1:1"),
        (
            "patterns.dxf",
            r"(AcDbPolyline\n 90\n *\d+\n 70\n *1\n 10\n)[\d.]+\n",
            r"\g<1>7.123456\n",
            "patterns.dxf is not patterns.svg",
        ),
        ("report.json", r'"area_piece_mm2": [\d.]+', '"area_piece_mm2": 1234.5', "mm2 are told"),
        ("report.json", r'"area_seat_mm2": [\d.]+', '"area_seat_mm2": 1234.5', "on the seat are told"),
        ("report.json", r'"length_b_mm": [\d.]+', '"length_b_mm": 99.0', "told as 99"),
        ("report.json", r'("stretch": \{\s*"max": )[\d.]+', r"\g<1>1.001", "along"),
    ],
)
def test_what_is_planted_in_the_papers_is_found(written, file, pattern, new, words):
    job, folder = written
    change(folder / file, pattern, new)
    assert any(words in found for found in verify(job, folder)), verify(job, folder)


def test_a_doubled_notch_of_which_one_tick_is_gone_is_another_mark(written):
    """It is a counted one then, and the slit before the tick belongs to nothing."""
    job, folder = written
    text = (folder / "patterns.svg").read_text()
    drawing, _ = svg_drawing(folder / "patterns.svg")
    piece = next(piece for piece in job.pieces if any(m.kind is MarkKind.DOUBLE_NOTCH for m in piece.marks))
    (at, _), *_ = [n for n in placed_pieces(job, drawing)[0][piece.panels[0]].notches if n[1] == 2]
    ticks = [
        s for s in drawing["inner lines"] if len(s.points) == 2 and abs(steps(s.points, closed=False)[0] - 3) < 1e-3
    ]
    tick = min(ticks, key=lambda s: np.linalg.norm(s.points.mean(axis=0) - at)).points
    high = float(re.search(r'viewBox="0 0 [\d.]+ ([\d.]+)"', text)[1])
    rows = re.finditer(r'<path d="M ([\d.]+),([\d.]+) L [^"]*" />', text)
    (row,) = [m[0] for m in rows if abs(float(m[1]) - tick[0, 0]) + abs(high - float(m[2]) - tick[0, 1]) < 1e-3]
    (folder / "patterns.svg").write_text(text.replace(row, ""))
    found = verify(job, folder)
    assert any("or other kinds" in words for words in found), found
    assert any("1 slits belong to no mark" in words for words in found), found


def test_a_piece_that_is_turned_over_is_found(written):
    job, folder = written
    change(
        folder / "patterns.svg",
        r"<svg.*",
        lambda m: re.sub(r"(?<=[ \"])(-?[\d.]+),(-?[\d.]+)", lambda p: f"{914 - float(p[1]):.4f},{p[2]}", m[0]),
    )
    assert any("turned over" in found for found in verify(job, folder))


@pytest.mark.parametrize("source", [lambda k: sheet_of(k)[0].text, sheet_bytes, lambda k: mesh_file(k)[:3]])
def test_a_seed_gives_the_same_case_every_time(source):
    assert all(source(k) == source(k) for k in range(20))
    assert len({repr(source(k)) for k in range(20)}) > 15


class Raw(Problem):
    """A problem that lets control characters through."""

    def __post_init__(self) -> None:
        pass


def test_a_problem_needs_code_place_and_printable_words():
    good = Problem("S001", "the sheet", "found 3; write 4", "a.toml", 2)
    assert complaints([good], file="a.toml", lines=2) == []
    bad = [
        Problem("x", "here", "y"),
        Problem("S001", "", "y"),
        Problem("S001", "here", " "),
        Raw("S001", "here", "a\x1bb"),
    ]
    assert [len(complaints([problem])) for problem in bad] == [1, 1, 1, 1]
    assert complaints([good], file="a.toml", lines=1)
    assert complaints([])


def spin(seed: int, folder: Path) -> Outcome:
    while True:
        seed += 1


def eat(seed: int, folder: Path) -> Outcome:
    np.ones(1 << 40)
    return Outcome("eaten")


def stumble(seed: int, folder: Path) -> Outcome:
    raise KeyError("cushion")


@pytest.mark.parametrize(("work", "words"), [(spin, "does not end"), (eat, "MemoryError"), (stumble, "KeyError")])
def test_a_case_that_hangs_eats_memory_or_stumbles_is_a_finding(work, words, monkeypatch):
    monkeypatch.setattr(worker, "work_of", lambda kind: work)
    monkeypatch.setitem(worker.CPU_SECONDS, "sheets", 0.2)
    found = worker.done("sheets", 1)
    assert len(found.findings) == 1
    assert words in found.findings[0]


@pytest.mark.parametrize(
    ("script", "words"), [("raise SystemExit(7)", "died"), ("import time; time.sleep(60)", "no answer")]
)
def test_a_worker_that_dies_or_says_nothing_is_a_finding(script, words, monkeypatch):
    monkeypatch.setitem(worker.CPU_SECONDS, "sheets", 0.1)
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    hand = Hand(subprocess.Popen([sys.executable, "-c", script], **pipes))
    assert words in hand.do("sheets", 3)["findings"][0]
    assert hand.process is None


def test_a_sheet_that_is_read_and_one_that_is_not(tmp_path):
    assert read(b'name = "a"\n', None, tmp_path).result == "refused"
    assert read(sheet_of(0)[0].text.encode(), None, tmp_path).result == "read"


def test_a_finding_is_shrunk_to_the_lines_that_show_it():
    text = "\n".join(f"line {k}" for k in range(50))
    assert shrunk(text, lambda t: "line 17" in t and "line 42" in t, seconds=5.0) == "line 17\nline 42"
    assert shrunk(text, lambda t: "line 17" in t, seconds=0.0) == text
    assert same_finding(["KeyError: 3", "x"], ["KeyError: 44"])
    assert not same_finding(["KeyError: 3"], ["TypeError: 3"])


def test_the_folder_of_the_command_tells_what_was_done_to_it(tmp_path):
    bench = Bench(tmp_path)
    bench.sheet(0)
    bench.known = {"patterns.svg": {"0" * 64}}
    assert bench.harm() == bench.leftovers([]) == []
    (bench.out / "patterns.svg").write_text("half")
    (bench.out / "notes.txt").write_text("other")
    (bench.out / next(iter(set(USERS) - {"notes.txt"}))).unlink()
    (tmp_path / "stage").mkdir()
    assert len(bench.harm()) == 3
    assert len(bench.leftovers([])) == 3


def test_a_process_that_outlives_the_command_is_seen(tmp_path, monkeypatch):
    monkeypatch.setattr("tests.fuzz.command._NO_WORKERS_SECONDS", 0.3)
    bench = Bench(tmp_path)
    assert bench.workers_left() == []
    child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)", str(tmp_path)])
    time.sleep(0.2)
    assert bench.workers_left() == ["1 worker processes are left"]
    child.wait()


def test_the_ledger_adds_up(tmp_path):
    ledger, tally = {"jobs": []}, Tally()
    tally.add({"kind": "jobs", "seed": 3, "result": "refused", "codes": ["G130"], "findings": ["line 7 is odd"]})
    entered(ledger["jobs"], (0, 10), tally, "code", "cases")
    entered(ledger["jobs"], (10, 15), tally, "code", "cases")
    entered(ledger["jobs"], (15, 15), tally, "code", "cases")
    entered(ledger["jobs"], (15, 20), tally, "other code", "cases")
    write_ledger(ledger, tmp_path / "ledger.json")
    again = read_ledger(tmp_path / "ledger.json")
    assert again == ledger
    assert [line["seeds"] for line in again["jobs"]] == [[0, 15], [15, 20]]
    assert again["jobs"][0]["results"] == {"refused": 2}
    assert again["jobs"][0]["refused"] == {"G130": [3]}
    assert next_seed(again["jobs"]) == 20
    assert totals(again) == {"jobs": 20}
