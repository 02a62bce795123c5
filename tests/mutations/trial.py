"""One fault tried in a copy of the tree: the folder's own tests, those that know the changed module first."""

import ast
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

from tests.mutations.sites import Site

ROOT = Path(__file__).parents[2]
LEFT_OUT = shutil.ignore_patterns(".*", "out", "build", "dist", "*.egg-info", "__pycache__")


class Copy:
    """A copy of the tree that faults are put into, one at a time. Nothing outside it is written."""

    def __init__(self, root: Path) -> None:
        self.root = root
        # A file's time tells Python whether its compiled form still holds, and two writes may fall into one second.
        self._time = int(time.time())

    def write(self, file: str, text: str) -> None:
        self._time += 10
        path = self.root / file
        path.write_text(text, encoding="utf-8")
        os.utime(path, (self._time, self._time))

    def clean(self, folder: str, limit_s: float) -> tuple[str, float]:
        """Outcome and seconds of a folder's tests without any fault."""
        start = time.monotonic()
        return self._tests(files_of(self.root, folder), limit_s), time.monotonic() - start

    def tried(self, site: Site, limit_s: float) -> str:
        """Outcome with a fault: "killed", "survived", or "time" when the tests did not end."""
        source = (self.root / site.file).read_text(encoding="utf-8")
        module = ".".join(Path(site.file).with_suffix("").parts)
        self.write(site.file, site.applied(source))
        try:
            return self._tests(files_of(self.root, module.rpartition(".")[0], module), limit_s)
        finally:
            self.write(site.file, source)

    def _tests(self, files: list[str], limit_s: float) -> str:
        if not files:
            return "survived"
        env = {**os.environ, "PYTHONPATH": str(self.root), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        words = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *files]
        process = subprocess.Popen(
            words, cwd=self.root, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        try:
            code = process.wait(limit_s)
        except subprocess.TimeoutExpired:
            return "time"
        finally:
            _end(process)
        return "survived" if code == 0 else "killed"


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


def files_of(root: Path, folder: str, module: str = "") -> list[str]:
    """A folder's test files below the root: those that import a module first, then those that import most."""
    files = sorted((root / "tests" / Path(*folder.split("."))).glob("test_*.py"))

    def rank(path: Path) -> tuple[bool, int, str]:
        known = _imported(path)
        return module not in known, -sum(name.startswith(f"{folder}.") for name in known), path.name

    return [str(path.relative_to(root)) for path in sorted(files, key=rank)]


def _imported(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{alias.name}" for alias in node.names)}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found
