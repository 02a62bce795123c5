"""Pictures of a whole job and the command that shows them."""

import io
import os
import sys
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from flatten.app.seat_view import check_view, has_seal, sealed, view_sheet
from flatten.seatview.pictures import SEAT, png, seat_pictures
from flatten.seatview.scenes import SHOWS, panel_colours, scene
from meshes.base.problems import ProblemError
from meshes.records.materials import CRUSH_LIMIT
from meshes.seat.assembly import placed
from meshes.view import view
from meshes.view.settled_maps import BEYOND_LIMIT, NO_FOAM
from tests.samples import sample_job


@pytest.fixture(scope="module")
def job():
    return sample_job()


@pytest.fixture
def no_graphics(monkeypatch):
    """A drawing process that ends the way vtk does without a graphics system."""
    code = "import os, signal; os.kill(os.getpid(), signal.SIGSEGV)"
    monkeypatch.setattr(view, "child_command", lambda: [sys.executable, "-c", code])


@pytest.mark.parametrize("show", SHOWS)
def test_a_scene_holds_the_whole_seat_where_the_sheet_puts_it(job, show):
    low, high = scene(job, show).box()
    surfaces = [(pad.support if show == "support" else pad.surface, pad.placement) for pad in job.pads]
    points = np.concatenate([placed(surface.vertices, placement) for surface, placement in surfaces])
    assert np.allclose(low, points.min(axis=0))
    assert np.allclose(high, points.max(axis=0))


def test_normals_look_outward(job):
    for show in SHOWS:
        for part in scene(job, show).parts:
            a, b, c = (part.vertices[part.triangles[:, k]] for k in range(3))
            faces = np.cross(b - a, c - a)
            turned = np.einsum("ij,ij->i", faces, part.normals[part.triangles].sum(axis=1))
            assert (turned > 0).mean() > 0.99


def test_neighbours_differ_and_mirrored_pairs_agree_in_colour(job):
    colours = panel_colours(job)
    for pad in job.pads:
        for seam in pad.seams:
            if job.panels[seam.a].mirror_of != seam.b and job.panels[seam.b].mirror_of != seam.a:
                assert colours[seam.a] != colours[seam.b]
        for panel in pad.panels:
            assert panel.mirror_of is None or colours[panel.name] == colours[panel.mirror_of]


def test_colours_of_stretch_follow_the_figures(job):
    shown = scene(job, "stretch")
    parts = {part.name: part for part in shown.parts}
    # Of the panels that keep clear of the ends of the colours the one that is stretched least evenly.
    clear = [n for n, flat in job.flats.items() if flat.use.max() < 1.0]
    name = max(clear, key=lambda n: np.ptp(job.flats[n].stretch[:, 0]))
    flat, colours = job.flats[name], parts[name].colours.astype(int)
    pulled = flat.triangles[np.argsort(flat.stretch[:, 0])[-5:]].ravel()
    full = flat.triangles[np.argsort(flat.stretch[:, 0])[:5]].ravel()
    warmth = colours[:, 0] - colours[:, 2]
    assert warmth[pulled].mean() > warmth[full].mean()


def test_the_map_of_crushed_foam_follows_the_settled_pads(job):
    shown = scene(job, "compression")
    for part, pad in zip(shown.parts, job.pads, strict=True):
        crush = pad.rest.foam_crush
        dark = np.where(np.isnan(crush), -1.0, -part.colours.astype(float).sum(axis=1))
        foam = ~np.isnan(crush)
        assert (part.colours[~foam] == NO_FOAM).all()
        assert (part.colours[crush > CRUSH_LIMIT] == BEYOND_LIMIT).all()
        order = np.argsort(crush[foam])
        assert (np.diff(dark[foam][order]) >= 0).all()
    bare = scene(replace(job, pads=tuple(replace(pad, rest=None) for pad in job.pads)), "compression")
    assert all(len(np.unique(part.colours, axis=0)) == 1 for part in bare.parts)


def test_the_map_of_heights_is_darkest_where_the_cover_went_down_most(job):
    shown = scene(job, "settled")
    pad, part = max(zip(job.pads, shown.parts, strict=True), key=lambda pair: -pair[0].rest.height_change_mm[0])
    change = pad.rest.settled.heights_mm - pad.thickness_mm
    assert change.min() == pytest.approx(pad.rest.height_change_mm[0])
    assert part.colours.sum(axis=1)[np.argmin(change)] == min(p.colours.sum(axis=1).min() for p in shown.parts)


def test_a_job_is_drawn_from_three_sides_and_with_its_stretch(job, tmp_path):
    files, problems = seat_pictures(job, tmp_path)
    assert [path.name for path in files.values()] == [file for _, file, _, _ in SEAT]
    for path in files.values():
        with Image.open(path) as image:
            assert image.size == view.SIZE
            assert np.asarray(image).std() > 5
    assert all(problem.warning for problem in problems)


def test_without_graphics_all_pictures_are_painted_and_the_report_says_so(job, tmp_path, no_graphics):
    files, problems = seat_pictures(job, tmp_path)
    assert all(path.is_file() for path in files.values())
    assert [(problem.code, problem.warning) for problem in problems] == [("V102", True)]
    assert "SIGSEGV" in problems[0].text


def test_the_command_saves_a_picture_without_a_screen(job, tmp_path, no_graphics, capsys):
    view_sheet(job, save=tmp_path / "seat.png", show="support")
    with Image.open(tmp_path / "seat.png") as image:
        assert image.size == view.SIZE
    assert "V102" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "code", "word"),
    [({"show": "springs"}, "V103", "panels"), ({"save": "seat.jpg"}, "V104", ".png")],
)
def test_what_cannot_be_shown_is_refused_with_advice(job, tmp_path, options, code, word):
    name = options.get("save", "seat.png")
    with pytest.raises(ProblemError) as fault:
        view_sheet(job, save=tmp_path / name, show=options.get("show", "panels"))
    assert fault.value.problems[0].code == code
    assert word in fault.value.problems[0].text
    assert not (tmp_path / name).exists()


def test_only_a_picture_saved_before_and_unchanged_is_replaced(job, tmp_path, no_graphics, capsys):
    path = tmp_path / "seat.png"
    view_sheet(job, save=path, show="support")
    first = path.read_bytes()
    view_sheet(job, save=path, show="padded")
    assert path.read_bytes() != first
    assert has_seal(path.read_bytes())
    # Written over in a drawing program, and a picture of another kind.
    with Image.open(path) as image:
        image.transpose(Image.Transpose.ROTATE_180).save(path)
    for data in (path.read_bytes(), png(Image.new("RGB", (9, 9))), first[:-20], first + b"x", b""):
        path.write_bytes(data)
        with pytest.raises(ProblemError, match="P101"):
            view_sheet(job, save=path)
        assert path.read_bytes() == data
    assert os.listdir(tmp_path) == ["seat.png"]


def test_a_link_is_neither_replaced_nor_followed(job, tmp_path, no_graphics):
    view_sheet(job, save=tmp_path / "seat.png", show="support")
    (tmp_path / "link.png").symlink_to("seat.png")
    (tmp_path / "to nothing.png").symlink_to("nothing.png")
    for name in ("link.png", "to nothing.png"):
        with pytest.raises(ProblemError, match="P101"):
            view_sheet(job, save=tmp_path / name)
    assert not (tmp_path / "nothing.png").exists()


@pytest.mark.parametrize("picture", [png(Image.new("RGB", (5, 4))), png(Image.effect_noise((64, 64), 20))])
def test_a_seal_breaks_with_every_byte(picture):
    whole = sealed(picture)
    assert has_seal(whole)
    with Image.open(io.BytesIO(whole)) as image:
        image.load()
        assert "trimloft view" in image.text
    for k in range(0, len(whole), max(1, len(whole) // 300)):
        assert not has_seal(whole[:k] + bytes([whole[k] ^ 1]) + whole[k + 1 :])
    assert not has_seal(picture)


def test_what_cannot_be_is_refused_before_the_work(tmp_path, monkeypatch):
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    (tmp_path / "mine.png").write_bytes(b"mine")
    (tmp_path / "folder.png").mkdir()
    places = {"mine.png": "P101", "folder.png": "P001", "nowhere/seat.png": "P004", "x" * 252 + ".png": "P004"}
    for name, code in places.items():
        with pytest.raises(ProblemError, match=code):
            check_view("panels", tmp_path / name)
    if sys.platform.startswith("linux"):
        with pytest.raises(ProblemError, match="V101"):
            check_view("panels", None)
    check_view("panels", tmp_path / ("x" * 251 + ".png"))
    assert sorted(os.listdir(tmp_path)) == ["folder.png", "mine.png"]


def test_a_place_that_cannot_be_written_is_named(job, tmp_path, no_graphics):
    with pytest.raises(ProblemError, match="nowhere"):
        view_sheet(job, save=tmp_path / "nowhere" / "seat.png")
