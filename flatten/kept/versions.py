"""What all results depend on besides their task: the program's own source, its libraries, the solver, the machine."""

import hashlib
import importlib
import importlib.util
import os
import platform
import sys
from functools import cache
from importlib import metadata
from pathlib import Path

from threadpoolctl import threadpool_info

from flatten.kept.digest import digest

# Libraries whose numbers end up in results.
LIBRARIES = ("numpy", "scipy", "kvxopt", "shapely", "pygeodesic", "pydantic", "pillow")
# Files of the program that decide results: its code, its data, its fonts.
_KINDS = (".py", ".toml", ".json", ".ttf")


def surroundings() -> str:
    """The digest of everything besides a task that may decide a result, for one process."""
    return digest(
        _program(),
        {name: _version(name) for name in LIBRARIES},
        os.environ.get("TRIMLOFT_SOLVER", ""),
        sys.version,
        (platform.system(), platform.machine()),
        _algebra(),
    )


@cache
def _program() -> str:
    """The digest of the program's own files, its version among them."""
    found = hashlib.sha256()
    for package in ("meshes", "flatten"):
        spec = importlib.util.find_spec(package)
        assert spec is not None
        assert spec.submodule_search_locations is not None
        root = Path(next(iter(spec.submodule_search_locations)))
        for path in sorted(p for p in root.rglob("*") if p.suffix in _KINDS):
            data = path.read_bytes()
            found.update(f"{package}/{path.relative_to(root).as_posix()}:{len(data)}:".encode() + data)
    return found.hexdigest()


@cache
def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return ""


@cache
def _algebra() -> list[str]:
    """Which dense algebra runs here and for which processor: others round otherwise."""
    # Libraries bring their own, which is only known of once it is loaded.
    for name in ("scipy.linalg", "kvxopt"):
        if importlib.util.find_spec(name) is not None:
            importlib.import_module(name)
    told = ("internal_api", "version", "architecture")
    return sorted({" ".join(str(one.get(key, "")) for key in told) for one in threadpool_info()})
