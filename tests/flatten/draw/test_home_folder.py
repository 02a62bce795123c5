"""Papers depend on the sheet alone: not on what lies in the home folder, nor on there being one."""

import os
import subprocess
import sys

LETTERS = "from flatten.draw.fonts import words_width; import reportlab.rl_config as c; print(c.pageCompression)"


def run(home):
    env = {**os.environ, "HOME": str(home)}
    return subprocess.run([sys.executable, "-c", LETTERS], env=env, capture_output=True, text=True, check=False)


def test_a_home_that_is_no_folder_ends_nothing(tmp_path):
    home = tmp_path / "home"
    home.write_text("not a folder", encoding="utf-8")
    found = run(home)
    assert found.returncode == 0, found.stderr


def test_nothing_that_lies_in_the_home_folder_is_run(tmp_path):
    (tmp_path / ".reportlab_mods").write_text("raise SystemExit(7)", encoding="utf-8")
    (tmp_path / ".reportlab_settings").write_text("pageCompression = 9", encoding="utf-8")
    found = run(tmp_path)
    assert (found.returncode, found.stdout.strip()) == (0, "1"), found.stderr
