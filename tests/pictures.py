"""Renews the pictures that README and the examples show: `python -m tests.pictures [EXAMPLE ...]`.

Every example named, all without a name, is made from its sheet as it stands into a temporary folder, and its pictures
are taken from what was written there: pictures of the seat as they are, pages through `pdftoppm` (Debian:
poppler-utils), the report through a browser without a window (Debian: chromium).
"""

import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from PIL import Image
from pypdf import PdfReader

EXAMPLES = Path(__file__).parents[1] / "examples"
BROWSER = ("chromium", "--headless", "--no-sandbox", "--hide-scrollbars", "--force-device-scale-factor=1")
PAGES_DPI = 55

Drawn = Callable[[Path], Image.Image]
"""Takes a picture from a folder that `trimloft make` wrote."""


def main(names: list[str]) -> None:
    for name in names or sorted(PICTURES):
        with tempfile.TemporaryDirectory() as folder:
            _renew(name, Path(folder))


def _renew(name: str, folder: Path) -> None:
    (sheet,) = [path for path in (EXAMPLES / name).glob("*.toml") if path.name != "expected.toml"]
    made: dict[str, Path] = {}
    for file, (addition, drawn) in PICTURES[name].items():
        if addition not in made:
            made[addition] = _made(sheet, addition, folder / f"{len(made)}")
        picture = drawn(made[addition])
        picture.convert("RGB").quantize(256).save(EXAMPLES / name / "pictures" / file, optimize=True)
        print(f"examples/{name}/pictures/{file}: {picture.width} x {picture.height}", flush=True)


def _made(sheet: Path, addition: str, folder: Path) -> Path:
    """The folder into which a sheet, with something added to it, was made."""
    folder.mkdir()
    # Some sheets cut from hides that lie beside the examples.
    shutil.copytree(EXAMPLES / "hides", folder.parent / "hides", dirs_exist_ok=True)
    asked = folder / sheet.name
    asked.write_text(sheet.read_text() + addition)
    out = folder / "out"
    subprocess.run([sys.executable, "-m", "flatten", "make", str(asked), "--out", str(out), "--quiet"], check=True)
    return out


def _seat(file: str, wide: int, folder: Path) -> Image.Image:
    picture = Image.open(folder / file)
    return picture.resize((wide, round(wide * picture.height / picture.width)), Image.Resampling.LANCZOS)


def _report(wide: int, high: int, folder: Path) -> Image.Image:
    """The top of the report."""
    return _shot(folder / "report.html", wide, high)


def _part(pattern: str, wide: int, folder: Path) -> Image.Image:
    """One part of the report by itself, as far down as there is anything; pattern: of its markup."""
    page = (folder / "report.html").read_text()
    style, found = re.search("<style>.*?</style>", page, re.S), re.search(pattern, page, re.S)
    assert style, "the report has a style"
    assert found, f"the report has no {pattern}"
    alone = folder.parent / "part.html"
    alone.write_text(f'<!doctype html><meta charset="utf-8">{style[0]}<main>{found[0]}</main>')
    return _without_foot(_shot(alone, wide, 1600))


def _section(pad: str, wide: int, folder: Path) -> Image.Image:
    """The drawing of a pad cut open along its middle."""
    (sheet,) = folder.parent.glob("*.toml")
    cut = folder.parent / "cut"
    command = ["section", str(sheet), "--pad", pad, "--along", "0", "--out", str(cut), "--quiet"]
    subprocess.run([sys.executable, "-m", "flatten", *command], check=True)
    return _seat("section.png", wide, cut)


def _pages(folder: Path) -> Image.Image:
    """The first page, the map of the pages and the page with most lines, side by side."""
    pdf = folder / "patterns.pdf"
    words = [page.extract_text() for page in PdfReader(pdf).pages]
    plan = next(k for k, text in enumerate(words) if "How the pages lie together" in text)
    fullest = max(range(plan + 1, len(words)), key=lambda k: int((np.asarray(_page(pdf, k + 1, 15)) < 200).sum()))
    shown = [_page(pdf, k + 1, PAGES_DPI) for k in dict.fromkeys((0, plan, fullest))]
    gap, frame = 8, (180, 180, 180)
    whole = Image.new("RGB", (sum(one.width + gap for one in shown) - gap, shown[0].height), frame)
    left = 0
    for one in shown:
        whole.paste(one, (left, 0))
        left += one.width + gap
    return whole


def _page(pdf: Path, number: int, dpi: int) -> Image.Image:
    drawn = pdf.parent.parent / f"page-{number}"
    command = ["pdftoppm", "-r", str(dpi), "-f", str(number), "-l", str(number), "-png", "-singlefile"]
    subprocess.run([*command, str(pdf), str(drawn)], check=True)
    return Image.open(drawn.with_suffix(".png")).convert("RGB")


def _shot(page: Path, wide: int, high: int) -> Image.Image:
    shot = page.parent / "shot.png"
    command = [*BROWSER, f"--screenshot={shot}", f"--window-size={wide},{high}", page.resolve().as_uri()]
    subprocess.run(command, check=True, capture_output=True, cwd=page.parent)
    return Image.open(shot).convert("RGB")


def _without_foot(picture: Image.Image) -> Image.Image:
    """Without the empty rows at its foot, but for a margin."""
    rows = np.flatnonzero((np.asarray(picture) != np.asarray(picture)[-1, -1]).any(axis=(1, 2)))
    return picture.crop((0, 0, picture.width, min(int(rows[-1]) + 12, picture.height)))


def _seen(file: str, wide: int = 1200) -> dict[str, tuple[str, Drawn]]:
    return {"seat.png": ("", partial(_seat, file, wide))}


SEAM = '\n[[relief]]\npanel = "cushion right bolster"\napply = 2\n'
# By example: its pictures, each with what is added to the sheet for it.
PICTURES: dict[str, dict[str, tuple[str, Drawn]]] = {
    "bow_seat": _seen("seat-front.png"),
    "box_cushion": _seen("seat-rear.png"),
    "drum_stool": _seen("seat-rear.png"),
    "helm_bench": {
        **_seen("seat-front.png", 900),
        "stretch.png": ("", partial(_seat, "seat-stretch.png", 900)),
        "compression.png": ("", partial(_seat, "seat-compression.png", 900)),
        "report.png": ("", partial(_report, 1000, 757)),
        "piece.png": ("", partial(_part, r'<article id="piece-2">.*?</article>', 900)),
        "section.png": ("", partial(_section, "backrest", 1240)),
        "pages.png": ("", _pages),
    },
    "jump_seat": _seen("seat-front.png"),
    "kidney_seat": _seen("seat-front.png"),
    "knife_edge": _seen("seat-side.png"),
    "pilot_bucket": {
        "report.png": ("", partial(_report, 1100, 900)),
        "report-with-seam.png": (SEAM, partial(_report, 1100, 900)),
    },
    "roll": _seen("seat-front.png"),
    "round_stool": _seen("seat-rear.png"),
    "slip_seat": _seen("seat-front.png"),
}


if __name__ == "__main__":
    main(sys.argv[1:])
