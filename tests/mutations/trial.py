"""One fault tried in a copy of the tree: the folder's own tests that can notice it, likely and quick ones first."""

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.mutations.order import Reached, kept, order, read
from tests.mutations.sites import Site

ROOT = Path(__file__).parents[2]
LEFT_OUT = shutil.ignore_patterns(".*", "out", "build", "dist", "*.egg-info", "__pycache__")
# A test run begins with reading the libraries, and is broken off after so many times the seconds its tests take
# without a fault.
BEGINNING_S = 30.0
SLOWER = 4.0
# A busy machine gives a process at least such a share of its time.
LEAST_SHARE = 0.1
# Of tests that fail without a fault so many characters are shown.
TOLD = 3000


class Copy:
    """A copy of the tree that faults are put into, one at a time. Nothing outside it is written but what is kept."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._said = root / "said.txt"
        # A file's time tells Python whether its compiled form still holds, and two writes may fall into one second.
        self._time = int(time.time())

    def write(self, file: str, text: str) -> None:
        self._time += 10
        path = self.root / file
        path.write_text(text, encoding="utf-8")
        os.utime(path, (self._time, self._time))

    def reached(self, folder: str) -> Reached | None:
        """What a folder's tests reach without any fault; None when they fail."""
        path = kept(self.root, folder)
        if not path.exists():
            draft = self.root / "reached.json"
            files = sorted((self.root / "tests" / Path(*folder.split("."))).glob("test_*.py"))
            words = [str(file.relative_to(self.root)) for file in files]
            if not words:
                print(f"{folder}: it has no tests of its own")
                return None
            if self._tests(words, None, REACHED=str(draft)) != "survived":
                print(self._said.read_text(encoding="utf-8", errors="replace")[-TOLD:])
                return None
            shutil.move(draft, path)
        return read(path)

    def tried(self, site: Site, reached: Reached) -> str:
        """Outcome with a fault: "killed", "survived", or "time" when the tests did not end."""
        names = order(self.root, site, reached)
        if not names:
            return "survived"
        listed = self.root / "order.txt"
        listed.write_text("\n".join(names), encoding="utf-8")
        limit_s = BEGINNING_S + SLOWER * sum(reached[name].seconds for name in names)
        source = (self.root / site.file).read_text(encoding="utf-8")
        self.write(site.file, site.applied(source))
        try:
            files = list(dict.fromkeys(name.partition("::")[0] for name in names))
            return self._tests(files, limit_s / LEAST_SHARE, ORDER=str(listed), CPU_S=f"{limit_s:.0f}")
        finally:
            self.write(site.file, source)

    def _tests(self, files: list[str], limit_s: float | None, **given: str) -> str:
        threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        env = {**os.environ, "PYTHONPATH": str(self.root), **threads, **given}
        words = ["-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", "-p", "tests.mutations.reached", *files]
        with self._said.open("wb") as said:
            process = subprocess.Popen(
                [sys.executable, *words], cwd=self.root, env=env, stdout=said, stderr=said, start_new_session=True
            )
        try:
            code = process.wait(limit_s)
        except subprocess.TimeoutExpired:
            return "time"
        finally:
            _end(process)
        return {0: "survived", -signal.SIGXCPU: "time", -signal.SIGKILL: "time"}.get(code, "killed")


def _end(process: "subprocess.Popen[bytes]") -> None:
    """End a test run together with what it started."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


@contextlib.contextmanager
def copied() -> Iterator[Copy]:
    """A copy of the tree in a temporary folder; checked that tests there import the copy."""
    with TemporaryDirectory(prefix="mutations-") as folder:
        root = Path(folder).resolve() / "tree"
        shutil.copytree(ROOT, root, ignore=LEFT_OUT)
        ask = "import meshes, flatten; print(meshes.__file__, flatten.__file__)"
        env = {**os.environ, "PYTHONPATH": str(root)}
        said = subprocess.run(
            [sys.executable, "-c", ask], cwd=root, env=env, capture_output=True, text=True, check=True
        )
        if not all(Path(word).is_relative_to(root) for word in said.stdout.split()):
            sys.exit(f"tests in {root} would import {said.stdout.strip()}, not the copy")
        yield Copy(root)
