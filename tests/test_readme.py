"""What the README shows runs as it stands."""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text()


def test_the_python_lines_run(tmp_path):
    """As they stand, but on the example with larger triangles, which takes a quarter of the time."""
    code = re.search(r"```python\n(.*?)```", README, re.S).group(1)
    named = re.search(r'read_sheet\("(.*?)"\)', code).group(1)
    coarse = tmp_path / "seat.toml"
    coarse.write_text(re.sub(r"^mesh = .*$", "mesh = 20", (ROOT / named).read_text(), flags=re.M))
    assert "mesh = 20" in coarse.read_text()
    code = code.replace(named, str(coarse))
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    first, second = done.stdout.strip().splitlines()
    assert first.startswith("back face 0.0")
    assert first.endswith("fits True")
    # what the recipe finds panel by panel is what the job finds, to the last digit
    assert second.startswith("True [")
    assert "bottom band" in second


def test_pictures_and_links_are_there():
    for target in re.findall(r"\]\(([^)]+)\)", README):
        assert (ROOT / target).exists(), target


def test_commands_named_are_commands():
    from flatten.app.cli import app

    named = set(re.findall(r"^trimloft (\w+)", README, re.M))
    looked = {"check", "view", "flatten", "relief", "section", "hide", "compare", "readings"}
    assert named == {"start", "make", "fit", "strip", *looked}
    for word in named:
        assert app[word] is not None
