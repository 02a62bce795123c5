"""Pictures of a seat, and a window to turn it in. No failure of a picture stops anything else.

Drawing is left to a child process (`meshes.view.child`), whose exit status is read and whose time is limited; when it
fails, the painter draws the same views.
"""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from PIL import Image

from meshes.base.problems import Problem, ProblemError
from meshes.folder.temporary import temporary_folder
from meshes.view.painter import letter, paint
from meshes.view.scene import NO_SCREEN, Scene, save_scene

SIZE = (1200, 900)
TIME_LIMIT_S = 60.0


@dataclass(frozen=True, eq=False)
class Shot:
    """One picture to draw: a scene from a named view (see `meshes.view.scene.CAMERAS`)."""

    scene: Scene
    view: str


@dataclass(frozen=True, eq=False)
class DrawnPictures:
    """Pictures in the order asked for; how: "pyvista" or "painter"; reason: what kept pyvista from drawing, or ""."""

    images: tuple[Image.Image, ...]
    how: str
    reason: str = ""


def pictures(
    shots: Sequence[Shot], *, size: tuple[int, int] = SIZE, time_limit_s: float = TIME_LIMIT_S
) -> DrawnPictures:
    """Draw all shots, in one child process where the machine can, else by the painter."""
    images, reason = _drawn_by_child(shots, size, time_limit_s)
    if reason:
        images = [paint(shot.scene, shot.view, size) for shot in shots]
    lettered = tuple(letter(image, shot.scene) for image, shot in zip(images, shots, strict=True))
    return DrawnPictures(lettered, "painter" if reason else "pyvista", reason)


def _drawn_by_child(shots: Sequence[Shot], size: tuple[int, int], time_limit_s: float) -> tuple[list[Image.Image], str]:
    """The pictures, or why there are none."""
    try:
        with temporary_folder() as folder:
            reason = _run("draw", folder, shots, size, time_limit_s)
            files = [folder / f"{k}.png" for k in range(len(shots))]
            if not reason and not all(file.is_file() for file in files):
                reason = "it left no picture"
            return ([], reason) if reason else ([Image.open(file).convert("RGB") for file in files], "")
    except OSError as fault:
        return [], fault.strerror or str(fault)


def window(scenes: Mapping[str, Scene]) -> None:
    """Open a window on named scenes and wait until it is closed. Raises ProblemError where there is no screen."""
    with temporary_folder() as folder:
        shots = [Shot(scene, "front") for scene in scenes.values()]
        reason = _run("window", folder, shots, SIZE, None, list(scenes))
    if reason:
        text = f"no window could be opened ({reason}); save a picture instead: --save seat.png"
        raise ProblemError([Problem("V101", "window", text)])


def child_command() -> list[str]:
    """How the child process is started."""
    return [sys.executable, "-m", "meshes.view.child"]


def _run(
    what: str,
    folder: Path,
    shots: Sequence[Shot],
    size: tuple[int, int],
    time_limit_s: float | None,
    names: Sequence[str] | None = None,
) -> str:
    """Let the child do its work; returns why it failed, empty when it did not."""
    known: list[Scene] = []
    order = []
    for shot in shots:
        if not any(shot.scene is scene for scene in known):
            known.append(shot.scene)
        k = next(k for k, scene in enumerate(known) if scene is shot.scene)
        order.append([names[k] if names else f"scene{k}", shot.view])
    for k, scene in enumerate(known):
        save_scene(scene, folder / f"{names[k] if names else f'scene{k}'}.npz")
    (folder / "shots.json").write_text(json.dumps(order))
    command = [*child_command(), what, str(folder), str(size[0]), str(size[1])]
    try:
        done = subprocess.run(
            command, env=_surroundings(screen=what == "window"), capture_output=True, timeout=time_limit_s, check=False
        )
    except subprocess.TimeoutExpired:
        return f"it took longer than {time_limit_s:g} s"
    except OSError as fault:
        return fault.strerror or str(fault)
    return _ended(done.returncode)


def _surroundings(*, screen: bool) -> dict[str, str]:
    """The child's environment: it finds this package, and sees the screen only when it needs one."""
    here = dict(os.environ)
    here["PYTHONPATH"] = os.pathsep.join([str(Path(__file__).parents[2]), *filter(None, [here.get("PYTHONPATH")])])
    if not screen:
        for name in ("DISPLAY", "WAYLAND_DISPLAY"):
            here.pop(name, None)
    return here


def _ended(code: int) -> str:
    if code == 0:
        return ""
    if code == NO_SCREEN:
        return "there is no screen"
    if code < 0:
        return f"it was ended by {signal.Signals(-code).name}"
    return f"it ended with status {code}"
