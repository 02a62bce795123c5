"""The command `make` on a folder that holds the user's own files too, and what that folder may look like at any moment.

User's files never change. Every file of ours that is there is a whole one, of the run before or of this one. Once a run
has ended by itself, the folder holds just what a run into an empty folder writes, besides the user's files.
"""

import hashlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
SHEET = """\
name = "Launch head pad, {version}"
unit = "mm"
[output]
mesh = 24
[[pad]]
name = "head pad"
kind = "backrest"
[pad.outline]
bottom_width = 240
top_width = 230
depth = 150
corner_radius = 30
[pad.sides.bottom]
drop = 45
closed_by_hand = true
[pad.sides.right]
drop = 45
band = true
[pad.sides.top]
drop = 45
band = true
[[pad.layer]]
material = "foam_medium"
thickness = {thickness}
"""
USERS = {
    "notes.txt": b"ring the customer about the welt\n",
    "photo of the frame.jpg": bytes(range(256)) * 40,
    "old/patterns.svg": b"<svg>kept from another year</svg>",
    "report (mine).json": b'{"version": 7}',
}
# Written on every run with the time it took, so no two are alike.
TIMED = ("report.json", "report.html")
LONGEST_SECONDS = 150.0
_NO_WORKERS_SECONDS = 10.0
Limit = Callable[[], None]


@dataclass
class Bench:
    """A place to run the command in: its folder, the sheet in the output folder itself, and what runs may leave."""

    folder: Path
    known: dict[str, set[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.out, self.temporary = self.folder / "out", self.folder / "tmp"
        self.temporary.mkdir()
        for name, data in USERS.items():
            path = self.out / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)

    def sheet(self, version: int) -> Path:
        """The sheet of a version, which lies among the patterns, as many keep it."""
        path = self.out / "seat.toml"
        path.write_text(SHEET.format(version=version, thickness=15 + version))
        return path

    def start(self, sheet: Path, out: Path, limit: Limit | None = None) -> subprocess.Popen[str]:
        """The command, running."""
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(self.temporary)}
        command = [sys.executable, "-m", "flatten", "make", str(sheet), "--out", str(out), "--no-pictures", "--quiet"]
        return subprocess.Popen(
            command,
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            errors="replace",
            preexec_fn=limit,
            start_new_session=True,
            cwd=self.folder,
        )

    def finished(self, sheet: Path, out: Path, limit: Limit | None = None) -> tuple[int, str]:
        """Exit code and stderr of a run to its end."""
        process = self.start(sheet, out, limit)
        _, said = process.communicate(timeout=LONGEST_SECONDS)
        return process.returncode, said

    def learn(self, version: int) -> list[str]:
        """What a run of this version writes into an empty folder; its names."""
        clean = self.folder / f"clean {version}"
        code, said = self.finished(self.sheet(version), clean)
        assert code == 0, said
        for path in clean.rglob("*"):
            if path.is_file():
                self.known.setdefault(str(path.relative_to(clean)), set()).add(_digest(path))
        return sorted(str(p.relative_to(clean)) for p in clean.rglob("*") if p.is_file())

    def harm(self) -> list[str]:
        """What is wrong with the folder as it stands: a user's file changed or gone, a file of ours in part."""
        faults = [f"the user's {n} is gone" for n in USERS if not (self.out / n).exists()]
        faults += [
            f"the user's {n} is changed"
            for n, d in USERS.items()
            if (self.out / n).exists() and (self.out / n).read_bytes() != d
        ]
        if not (self.out / "seat.toml").exists():
            faults.append("the user's sheet is gone")
        for name, digests in self.known.items():
            path = self.out / name
            if path.exists() and not self._hidden(name) and not self._whole(path, digests):
                faults.append(f"{name} is there in part")
        return faults

    @staticmethod
    def _hidden(name: str) -> bool:
        """Manifests and journals begin with a dot; they tell of a run and differ with it."""
        return any(part.startswith(".") for part in Path(name).parts)

    @staticmethod
    def _whole(path: Path, digests: set[str]) -> bool:
        if path.name == "report.json":
            try:
                return "seconds" in json.loads(path.read_text())
            except ValueError:
                return False
        if path.name in TIMED:
            return path.read_text().rstrip().endswith("</html>")
        return path.suffix == ".json" or _digest(path) in digests

    def leftovers(self, names: list[str]) -> list[str]:
        """What lies about after a run that ended by itself, and what is missing."""
        there = {str(p.relative_to(self.out)) for p in self.out.rglob("*") if p.is_file()}
        wanted = {*names, *USERS, "seat.toml"}
        faults = [f"{n} is missing after the run" for n in sorted(wanted - there)]
        faults += [f"{n} is left behind" for n in sorted(there - wanted)]
        faults += [f"{p.name} is left in the temporary folder" for p in self.temporary.iterdir()]
        beside = [
            p.name for p in self.folder.iterdir() if p.name not in ("out", "tmp") and not p.name.startswith("clean")
        ]
        return faults + [f"{name} is left beside the output folder" for name in beside]

    def workers_left(self) -> list[str]:
        """Processes of the command that outlive it."""
        end = time.monotonic() + _NO_WORKERS_SECONDS
        while left := _processes(str(self.folder)):
            if time.monotonic() > end:
                for number in left:
                    os.kill(number, 9)
                return [f"{len(left)} worker processes are left"]
            time.sleep(0.1)
        return []


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _processes(words: str) -> list[int]:
    """Numbers of live processes with these words in their command line or environment, this one left out."""
    found = []
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit() or int(entry.name) == os.getpid():
            continue
        try:
            told = (entry / "cmdline").read_bytes() + (entry / "environ").read_bytes()
            dead = (entry / "stat").read_text().rpartition(")")[2].split()[0] == "Z"
        except OSError:
            continue
        if words.encode() in told and not dead:
            found.append(int(entry.name))
    return found
