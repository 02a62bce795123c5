"""What a job writes: which files, of what, for which choice; and what is said of a layout that another command wrote.

The job is a covered board, a pair, on one hide with a price table: flat, so that it costs next to nothing to make.
"""

import csv
import io
import json
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest

from flatten.hides.laid import lay_hides
from flatten.job.make import make
from flatten.pieces.turned_over import with_mirrored
from flatten.written.choices import paper_named, seen_from_flesh
from flatten.written.hide_files import CUT_LIST, hide_files, replaced_layout, stale_report
from flatten.written.job_folder import write_job
from flatten.written.papers import lists_of, made, papers_of
from flatten.written.writers import APPLY, HIDE, MAKE
from meshes.base.problems import ProblemError
from meshes.folder.names import matches
from meshes.folder.output import output_folder
from meshes.sheet.read import read_sheet

SHEET = """
name = "card"
[output]
mesh = 24
page = "a4"
[cutting]
prices = "prices.csv"
[stock]
foam_firm = [3]
[[hide]]
name = "one"
outline = [[0, 0], [2400, 0], [2400, 1500], [0, 1500]]
backbone = [[0, 750], [2400, 750]]
[[hide]]
name = "two"
outline = [[0, 0], [2400, 0], [2400, 1500], [0, 1500]]
backbone = [[0, 750], [2400, 750]]
[[pad]]
name = "door"
kind = "side"
[pad.outline]
bottom_width = 300
top_width = 240
depth = 200
[pad.board]
thickness = 3
wrap = 20
pair = "right"
[[pad.layer]]
material = "foam_firm"
thickness = 3
"""
PRICES = "item,price,per\nnothing of ours,3,piece\n"


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("written")
    (folder / "card.toml").write_text(SHEET)
    (folder / "prices.csv").write_text(PRICES)
    return make(folder / "card.toml", workers=1)


@pytest.fixture(scope="module")
def laid(job):
    return lay_hides(job, rounds=0)


@pytest.fixture(scope="module")
def written(job, tmp_path_factory):
    """What `write_job` put into a folder, what it gave back, and what it said on the way."""
    place, said = tmp_path_factory.mktemp("out") / "out", []
    with output_folder(place, MAKE) as folder:
        done, notes = write_job(job, folder, pictures=False, say=lambda *told: said.append(told))
    return place, done, notes, said


def pages_mm(data):
    from pypdf import PdfReader

    return [[float(side) * 25.4 / 72.0 for side in page.mediabox[2:]] for page in PdfReader(io.BytesIO(data)).pages]


def test_a_paper_is_known_by_its_name_in_any_letters():
    assert [paper_named(name) for name in ("a4", "A4", "A3")] == ["a4", "a4", "a3"]
    with pytest.raises(ProblemError, match=r"P201.*no such paper: found 'a9'; use one of .*a4"):
        paper_named("a9")


def test_all_is_written_and_nothing_else(written):
    place, done, notes, said = written
    names = {path.name for path in place.iterdir() if not path.name.startswith(".")}
    papers = {f"{stem}{end}" for stem in ("patterns", "padding") for end in (".pdf", "-roll.pdf", ".svg", ".dxf")}
    hide = {f"hide one{end}" for end in (".dxf", ".svg", " plan.pdf", " plan.png", " plan.svg")}
    lists = {"cutlist.csv", "seat.glb", "job-sheet.pdf", "order.csv", "layout.json", "report.json", "report.html"}
    assert names == papers | hide | lists
    assert all(matches(name, MAKE.names) for name in names)
    assert all(path.stat().st_size for path in place.iterdir())
    # Steps are counted from the first to the last, with none left out.
    steps = [(step, of) for _, step, of in said if of > 1]
    assert [step for step, _ in steps] == list(range(1, len(steps) + 1))
    assert {of for _, of in steps} == {len(steps) + 1}
    assert said[0] == ("laying pieces out", 0, 1)
    assert [word for word, _, _ in said][-2:] == ["order.csv", "report"]
    assert [note.code for note in notes] == [note.code for note in hide_files(done, None, flesh_up=False).notes]
    assert notes


def test_the_report_that_is_written_holds_what_later_stages_add(written):
    place, done, _, _ = written
    data = json.loads((place / "report.json").read_text())
    assert {"order", "hides", "steps", "pieces"} <= set(data)
    assert [problem["code"] for problem in data["problems"]] == [problem.code for problem in done.problems]
    assert data["steps"]
    html = (place / "report.html").read_text()
    for title in ("Where pieces come from", "Order list", "Job sheet"):
        assert title in html
    # The order of the parts on the page.
    assert html.index("Where pieces come from") < html.index("Order list")


def test_pages_are_of_the_paper_chosen_and_rolls_as_wide_as_the_sheet_says(job):
    for page, size in (("a4", (210.0, 297.0)), ("a3", (297.0, 420.0))):
        pieces, padding = papers_of(job, page, False)
        for group, stem in ((pieces, "patterns"), (padding, "padding")):
            assert list(group) == [f"{stem}.pdf", f"{stem}-roll.pdf", f"{stem}.svg", f"{stem}.dxf"]
            for sides in pages_mm(group[f"{stem}.pdf"]()):
                assert sorted(sides) == pytest.approx(sorted(size), abs=0.5)
            (roll, *_) = pages_mm(group[f"{stem}-roll.pdf"]())
            assert roll[0] == pytest.approx(job.sheet.output.roll_width, abs=0.5)


def drawn_names(group, stem):
    """Pieces of a drawing, each with its width and height, mm."""
    tree = ElementTree.fromstring(group[f"{stem}.svg"]())
    return sum(1 for node in tree.iter() if node.get("class") == "cut")


def test_mirrored_pieces_are_drawn_too_where_both_are_asked_for(job):
    for stem, k, pieces in (("patterns", 0, job.pieces), ("padding", 1, job.plans[0].drawn)):
        one, both = (papers_of(job, "a4", many)[k] for many in (False, True))
        assert drawn_names(one, stem) == len(pieces)
        assert drawn_names(both, stem) == len(with_mirrored(pieces)) > len(pieces)


def test_other_pieces_are_drawn_behind_those_of_the_cover_and_no_padding_is_no_file(job):
    more = replace(job, others=(replace(job.pieces[0], name="backing"),))
    assert drawn_names(papers_of(more, "a4", False)[0], "patterns") == len(job.pieces) + 1
    assert [next(iter(group)) for group in papers_of(replace(job, plans=()), "a4", False)] == ["patterns.pdf"]
    # The words on padding are of foam, those on pieces of leather.
    pieces, padding = (made({"x.svg": group[f"{stem}.svg"]})["x.svg"].decode() for group, stem in zip(
        papers_of(job, "a4", False), ("patterns", "padding"), strict=True))  # fmt: skip
    assert "foam" in padding
    assert pieces != padding


def test_lists_are_of_the_cut_and_of_the_seat(job):
    found = made(lists_of(job))
    assert set(found) == {"cutlist.csv", "seat.glb"}
    rows = list(csv.DictReader(io.StringIO(found["cutlist.csv"].decode())))
    assert rows
    assert {row["revision"] for row in rows} == {job.sheet.revision}
    assert found["seat.glb"].startswith(b"glTF")


def test_seen_from_the_flesh_every_piece_is_turned_over(job):
    job = replace(job, others=job.pieces)
    over = seen_from_flesh(job)
    for some, turned in ((job.pieces, over.pieces), (job.others, over.others)):
        for one, two in zip(some, turned, strict=True):
            assert two.flesh_up
            assert not one.flesh_up
            # The same size, mirrored: x and -x hold the same points.
            assert np.ptp(two.cut, axis=0) == pytest.approx(np.ptp(one.cut, axis=0))
            shift = (one.cut[:, 0].max() + one.cut[:, 0].min() + two.cut[:, 0].max() + two.cut[:, 0].min()) / 2
            a = np.array(sorted(map(tuple, np.round(one.cut, 6))))
            b = two.cut * [-1.0, 1.0] + [shift, 0.0]
            gap = [np.linalg.norm(a - p, axis=1).min() for p in b + np.array([0.0, a[:, 1].min() - b[:, 1].min()])]
            assert max(gap) < 1e-5


# --- hides and order -------------------------------------------------------------------------------------------------


def test_without_hides_there_is_an_order_list_alone(job):
    found = hide_files(job, None, flesh_up=False)
    assert set(found.files) == {"order.csv"}
    assert set(found.keys) == {"order"}
    assert [key for key, _, _ in found.parts] == ["order"]
    # The row of the price table that prices nothing of the job.
    assert ["nothing of ours" in note.text or "nothing of ours" in note.where for note in found.notes] == [True]


def test_every_hide_that_is_used_has_its_files_and_no_other(job, laid):
    found = hide_files(job, laid, flesh_up=False)
    assert laid.used == (0,) or list(laid.used) == [0]
    assert {name for name in found.files if name.startswith("hide")} == {
        f"hide one{end}" for end in (".dxf", ".svg", " plan.pdf", " plan.png", " plan.svg")
    }
    assert set(found.keys) == {"order", "hides"}
    assert [key for key, _, _ in found.parts] == ["hides", "order"]
    data = json.loads(found.files["layout.json"])
    pieces = sum(piece.cut_count + piece.mirrored_count for piece in job.pieces)
    assert sum(len(hide["pieces"]) for hide in data["hides"]) == pieces
    for name, head in ((".dxf", b"  0"), (" plan.pdf", b"%PDF"), (" plan.png", b"\x89PNG")):
        assert found.files[f"hide one{name}"].startswith(head)
    for name in (".svg", " plan.svg"):
        ElementTree.fromstring(found.files[f"hide one{name}"])
    # Every file knows which side is up.
    over = hide_files(job, laid, flesh_up=True)
    for name in (".dxf", ".svg", " plan.svg", " plan.png"):
        assert over.files[f"hide one{name}"] != found.files[f"hide one{name}"], name
    assert b"flesh side up" in over.files["hide one plan.svg"]
    assert b"flesh side up" not in found.files["hide one plan.svg"]
    for sides in pages_mm(found.files["hide one plan.pdf"]):
        assert sorted(sides) == pytest.approx([210.0, 297.0], abs=0.5)


def test_the_leather_that_is_ordered_is_what_the_layout_took(job, laid):
    """More hides are asked for where a layout uses so much of one than where it is only guessed."""
    told, guessed = (hide_files(job, one, flesh_up=False).files["order.csv"] for one in (laid, None))
    assert told != guessed


# --- what another command wrote --------------------------------------------------------------------------------------


def put(place, writer, files):
    with output_folder(place, writer) as folder:
        folder.write(files)


def listed(revision):
    return f"revision,name\n{revision},face\n".encode()


def stale(place, revision):
    with output_folder(place, HIDE) as folder:
        return [(note.code, note.where, note.warning) for note in stale_report(folder, revision)]


def test_a_layout_beside_papers_of_another_revision_is_told(tmp_path):
    assert stale(tmp_path / "empty", "b") == []
    put(tmp_path / "out", MAKE, {"report.json": b"{}", CUT_LIST: listed("b")})
    assert stale(tmp_path / "out", "b") == [("H012", "report.html", True)]
    assert stale(tmp_path / "out", "c") == [("H021", "patterns.pdf", True)]
    with output_folder(tmp_path / "out", HIDE) as folder:
        (note,) = stale_report(folder, "c")
    assert "revision b of the sheet, this layout is of revision c" in note.text
    # Where one of both is not known, nothing is said of it.
    assert stale(tmp_path / "out", "") == [("H012", "report.html", True)]
    for k, odd in enumerate((b"", b"name\nface\n", b"revision,name\n,face\n", b"\xff\xfe\x00", listed(""))):
        put(tmp_path / f"odd{k}", MAKE, {"report.json": b"{}", CUT_LIST: odd})
        assert stale(tmp_path / f"odd{k}", "c") == [("H012", "report.html", True)]
    # A cut list that somebody else put there is not ours to believe.
    put(tmp_path / "own", MAKE, {"report.json": b"{}"})
    (tmp_path / "own" / CUT_LIST).write_bytes(listed("b"))
    assert stale(tmp_path / "own", "c") == [("H012", "report.html", True)]


def test_a_layout_that_was_sought_is_told_when_it_is_replaced(tmp_path):
    def told():
        with output_folder(tmp_path / "out", MAKE) as folder:
            return [note.code for note in replaced_layout(folder)]

    assert told() == []
    put(tmp_path / "out", HIDE, {"layout.json": b"{}"})
    assert told() == ["H013"]
    put(tmp_path / "out", MAKE, {"layout.json": b"[]"})
    assert told() == []


def test_commands_that_lay_out_share_names_and_a_tried_cut_shares_none():
    assert (MAKE.shares, HIDE.shares, APPLY.shares) == (("hide",), ("make",), ())
    assert set(HIDE.names) < set(MAKE.names) == set(APPLY.names)
    assert len({writer.key for writer in (MAKE, HIDE, APPLY)}) == 3
    for name in ("layout.json", "order.csv", "hide one plan.pdf", "roll of suede.svg"):
        assert matches(name, HIDE.names)
    assert not matches("patterns.pdf", HIDE.names)


def test_a_sheet_that_cannot_price_is_refused(job, tmp_path):
    (tmp_path / "card.toml").write_text(SHEET)
    with pytest.raises(ProblemError):
        hide_files(replace(job, sheet=read_sheet(tmp_path / "card.toml")), None, flesh_up=False)
