"""The interface holds what its description says, whatever it is sent."""

import base64
import io
import json
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from PIL import Image
from pypdf import PdfReader

from flatten.page.interface import ADDRESSES, description

ROOT = Path(__file__).parents[3]
schema = schemathesis.openapi.from_dict(description())


@(
    schema.include(path_regex="^/api/(folder|sheets|stop)")
    .exclude(path_regex="papers|handover|still|section|hides")
    .parametrize()
)
@settings(max_examples=5, deadline=None, phases=[Phase.generate], suppress_health_check=list(HealthCheck))
def test_nothing_sent_makes_the_server_fail(running, case):
    answer = case.call(base_url=running.base, headers=running.headers)
    assert answer.status_code < 500
    case.validate_response(answer, checks=(schemathesis.checks.not_a_server_error,))


def test_every_refusal_is_numbered_problems(running):
    for one in ADDRESSES:
        path = one.path.replace("{sheet}", "none.toml").replace("{answer}", "0").replace("{paper}", "x.pdf")
        if one.method == "POST":
            answer = running.ask("POST", path, content=b"no json")
            if path != "/api/stop":
                assert answer.status_code in (400, 404)
                assert answer.json()["problems"][0]["code"].startswith("W3")
        elif "none" in path or "answers" in path:
            answer = running.ask("GET", path)
            assert answer.status_code == 404
            assert answer.json()["problems"]


def wait_for(running, sheet, level="final"):
    for _ in range(600):
        answer = running.ask("GET", f"/api/sheets/{sheet}/answer")
        if answer.status_code == 200 and answer.json()["level"] == level:
            return answer.json()
        time.sleep(0.15)
    raise AssertionError("no answer")


def test_an_answer_has_the_pieces_and_the_seat(running, slip):
    assert running.ask("POST", f"/api/sheets/{slip}/look").status_code == 200
    answer = wait_for(running, slip)
    assert answer["fits"]
    piece = answer["pieces"][0]
    cut = np.array(piece["cut"]).reshape(-1, 2)
    assert np.allclose([cut.min(axis=0), cut.max(axis=0)], np.array(piece["box"]).reshape(2, 2), atol=0.02)
    seat = running.ask("GET", f"/api/answers/{answer['id']}/seat").content
    length = int.from_bytes(seat[:4], "little")
    head = json.loads(seat[4 : 4 + length])
    pad = head["pads"][0]
    place, count = pad["settled"]
    points = np.frombuffer(seat, "<u2", count, 4 + length + place).reshape(-1, 3) * head["step"] + head["low"]
    assert np.allclose(points.max(axis=0), head["high"], atol=head["step"])
    for panel in pad["panels"]:
        first, many = panel["triangles"]
        triangles = np.frombuffer(seat, "<u4", many, 4 + length + first)
        assert triangles.max() < panel["vertices"][1]


def test_papers_are_the_bytes_of_make(running, slip, tmp_path):
    done = running.ask("POST", f"/api/sheets/{slip}/papers", json={"page": "letter", "pictures": False})
    assert done.status_code == 200, done.text
    command = [
        sys.executable,
        "-m",
        "flatten",
        "make",
        str(running.folder / slip),
        "--out",
        str(tmp_path / "out"),
    ]
    subprocess.run([*command, "--no-pictures", "--page", "letter"], check=True, cwd=ROOT, capture_output=True)
    names = [row["paper"] for row in done.json()["papers"]]
    assert {"patterns.pdf", "patterns.dxf", "padding.pdf", "report.html", "cutlist.csv"} <= set(names)
    for name in names:
        ours = running.ask("GET", f"/api/sheets/{slip}/papers/{name}").content
        if name not in ("report.json", "report.html"):
            assert ours == (tmp_path / "out" / name).read_bytes(), name


def test_a_cut_has_its_drawing_and_gauges(running, slip):
    body = {"pad": "seat", "direction": "along", "place_mm": 0}
    found = running.ask("POST", f"/api/sheets/{slip}/section", json=body).json()
    assert found["drawing"].startswith("<svg")
    assert len(PdfReader(io.BytesIO(base64.b64decode(found["gauges"]))).pages) >= 1
    body = {"pad": "none", "direction": "along", "place_mm": 0}
    refused = running.ask("POST", f"/api/sheets/{slip}/section", json=body)
    assert (refused.status_code, refused.json()["problems"][0]["code"]) == (422, "C106")


def test_pieces_are_laid_on_the_hides_of_the_sheet_and_the_order_is_told(running, slip):
    bare = running.ask("POST", f"/api/sheets/{slip}/hides", json={}).json()
    assert bare["plans"] == []
    assert "m2" in {row["unit"] for row in bare["order"]}
    state = running.ask("GET", f"/api/sheets/{slip}").json()
    change = {"base": state["mark"], "keys": ["hide"], "row": {"name": "red", "area": 2.5}}
    changed = running.ask("POST", f"/api/sheets/{slip}/row", json=change)
    assert changed.status_code == 200, changed.text
    found = running.ask("POST", f"/api/sheets/{slip}/hides", json={}).json()
    (plan,) = found["plans"]
    assert plan["name"] == "red"
    assert plan["plan"].startswith("<svg")
    assert "in pieces" in found["words"][0]
    assert "yield measured in the layout" in " ".join(row["source"] for row in found["order"])
    back = running.ask("GET", f"/api/sheets/{slip}").json()
    running.ask("POST", f"/api/sheets/{slip}/undo", json={"base": back["mark"]})


def test_a_still_picture_shows_the_seat(running, slip):
    picture = Image.open(io.BytesIO(running.ask("GET", f"/api/sheets/{slip}/still?show=panels&side=rear").content))
    assert np.asarray(picture.convert("L"), dtype=float).std() > 5.0
    assert running.ask("GET", f"/api/sheets/{slip}/still?show=x").status_code == 400
