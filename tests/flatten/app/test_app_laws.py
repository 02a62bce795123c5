"""Commands in this process, what they lean on replaced: what is printed where, what is written, how they end."""

import contextlib
import io
import os
import signal
import sys
import zlib
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from PIL import Image

from flatten.app import cli, relief_command, seat_view, stopping, streams, telling
from flatten.app.options import DrawingOptions, Running
from flatten.app.seat_view import _SEAL, check_view, has_seal, sealed, view_sheet
from flatten.app.streams import NO_READER, StreamFault, _Err, _escape, _Out, _plainly, _renewed, json_for
from flatten.app.summary import summary
from flatten.machine.workers import worker_pool
from flatten.written import job_folder
from flatten.written import papers as drawn_papers
from flatten.written.choices import paper_named
from flatten.written.job_folder import write_job
from meshes.base.problems import Problem, ProblemError
from meshes.base.units import span
from meshes.records.springs import Springs
from tests.samples import sample_job

WARNING = Problem("G999", "here", "a rail is 25.4 mm out", warning=True)


# ---- the command as a whole -----------------------------------------------------------------------------------------


@pytest.fixture
def ended(monkeypatch, capsys):
    """A function that runs the command line with a replaced set of commands: exit code, output, errors."""
    for name in ("listen", "listen_no_more"):
        monkeypatch.setattr(stopping, name, lambda: None)
    monkeypatch.setattr(streams, "prepare", lambda: None)
    monkeypatch.setattr(streams, "give_up", lambda: None)
    monkeypatch.setattr("meshes.folder.temporary.remove_left_over", lambda: None)

    def run(command):
        monkeypatch.setattr(cli, "app", command)
        with pytest.raises(SystemExit) as left:
            cli.main()
        return (left.value.code, *capsys.readouterr())

    return run


def raising(fault):
    def command(**_):
        raise fault

    return command


def test_a_command_ends_with_its_own_code_or_nought(ended):
    asked = []
    assert ended(lambda **given: asked.append(given))[0] == 0
    assert asked == [{"exit_on_error": False, "print_error": False, "result_action": "return_value"}]
    assert ended(lambda **_: 3)[0] == 3
    assert os.environ["OPENBLAS_NUM_THREADS"]


def test_every_fault_has_its_code_and_its_line(ended):
    from cyclopts import CycloptsError

    two = ProblemError([WARNING, replace(WARNING, code="G998")])
    code, out, err = ended(raising(two))
    assert (code, out) == (2, "")
    assert err.splitlines() == [str(WARNING), str(replace(WARNING, code="G998"))]
    code, _, err = ended(raising(CycloptsError("no such\x1b word")))
    assert code == 2
    assert err.startswith("trimloft: C101 ")
    assert err.endswith("; see trimloft --help\n")
    assert "\x1b" not in err
    code, _, err = ended(raising(MemoryError()))
    assert code == 2
    assert err.startswith("W102 memory: the memory does not suffice")
    assert ended(raising(StreamFault(None))) == (141, "", "")
    code, _, err = ended(raising(StreamFault("no space left")))
    assert code == 2
    assert err == "P005 standard output: cannot be written (no space left); make room, or send it elsewhere\n"
    code, _, err = ended(raising(stopping.Stopped(signal.SIGTERM)))
    assert code == 128 + signal.SIGTERM
    assert err == "trimloft: stopped by the system (SIGTERM); nothing is left half written\n"
    assert NO_READER == 128 + signal.SIGPIPE


# ---- stopping -------------------------------------------------------------------------------------------------------


@pytest.fixture
def handlers(monkeypatch):
    """Signals and the alarm as they are set, none of them for real."""
    kept = SimpleNamespace(set={}, alarm=None, before=dict.fromkeys(stopping.SIGNALS, signal.SIG_DFL))

    def clock(which, seconds):
        kept.alarm = (which, seconds)

    monkeypatch.setattr(signal, "signal", lambda number, what: kept.set.__setitem__(number, what))
    monkeypatch.setattr(signal, "getsignal", lambda number: kept.before[number])
    monkeypatch.setattr(signal, "setitimer", clock)
    monkeypatch.setattr(sys, "unraisablehook", sys.unraisablehook)
    return kept


def test_signals_are_listened_to_unless_the_caller_ignores_them(handlers):
    handlers.before[signal.SIGHUP] = signal.SIG_IGN
    stopping.listen()
    assert handlers.set.keys() == {signal.SIGINT, signal.SIGTERM}
    assert sys.unraisablehook is stopping._swallowed
    stopping.listen_no_more()
    assert handlers.set == dict.fromkeys(stopping.SIGNALS, signal.SIG_IGN)


def test_a_signal_is_raised_once_and_given_ten_seconds_on_the_way_out(handlers, monkeypatch):
    with pytest.raises(stopping.Stopped) as stopped:
        stopping._stop(signal.SIGINT, None)
    assert stopped.value.number == signal.SIGINT
    assert str(stopped.value) == "trimloft: stopped by Ctrl-C; nothing is left half written"
    assert {handlers.set[number] for number in stopping.SIGNALS} == {signal.SIG_IGN}
    assert handlers.alarm == (signal.ITIMER_REAL, 10.0)
    left = []
    monkeypatch.setattr(os, "_exit", left.append)
    handlers.set[signal.SIGALRM](signal.SIGALRM, None)
    assert left == [130]


def test_a_stop_that_was_swallowed_is_raised_again_in_a_moment(handlers, monkeypatch):
    stopping._swallowed(SimpleNamespace(exc_value=stopping.Stopped(signal.SIGTERM)))
    assert handlers.alarm == (signal.ITIMER_REAL, 0.02)
    with pytest.raises(stopping.Stopped):
        handlers.set[signal.SIGALRM](signal.SIGALRM, None)
    assert handlers.alarm == (signal.ITIMER_REAL, 10.0)
    told = []
    monkeypatch.setattr(sys, "__unraisablehook__", told.append)
    other = SimpleNamespace(exc_value=ValueError())
    handlers.alarm = None
    stopping._swallowed(other)
    assert told == [other]
    assert handlers.alarm is None


# ---- streams --------------------------------------------------------------------------------------------------------


def test_signs_that_cannot_be_shown_are_plain_letters_or_numbers():
    assert _plainly(UnicodeEncodeError("ascii", "5°×ü", 1, 4, "no")) == (" degx\\u00fc", 4)
    assert _plainly(UnicodeEncodeError("ascii", "a – b → c", 2, 3, "no")) == ("-", 3)
    assert [_escape(sign) for sign in ("ü", "漢", "🚤", "\udcff")] == [
        "\\u00fc",
        "\\u6f22",
        "\\ud83d\\udea4",
        "\\udcff",
    ]
    told = {"²": "2", "³": "3", "±": "+-", "—": "-", "…": "...", "’": "'"}
    for sign, plain in told.items():
        assert _plainly(UnicodeEncodeError("ascii", sign, 0, 1, "no")) == (plain, 1)


@pytest.mark.parametrize(("coding", "shown"), [("utf-8", True), ("ascii", False), ("latin-1", False), (None, False)])
def test_json_is_escaped_only_where_the_stream_needs_it(coding, shown):
    text = '{"name": "Łódź 🚤"}'
    found = json_for(SimpleNamespace(encoding=coding), text)
    assert (found == text) == shown
    if not shown:
        assert found == '{"name": "\\u0141\\u00f3d\\u017a \\ud83d\\udea4"}'
    assert json_for(SimpleNamespace(encoding=coding), "{}") == "{}"


class Broken(io.RawIOBase):
    """A file that cannot be written."""

    def __init__(self, fault):
        self.fault = fault

    def writable(self):
        return True

    def write(self, data):
        raise self.fault


def test_faults_in_writing_are_told_on_the_output_and_passed_over_on_errors():
    for fault, reason in ((BrokenPipeError(32, "gone"), None), (OSError(28, "full"), "full"), (OSError("odd"), "odd")):
        out, held = _Out(Broken(fault), write_through=True), _Out(Broken(fault))
        assert held.write("text") == 4
        for fails in (lambda out=out: out.write("text"), held.flush):
            with pytest.raises(StreamFault) as told:
                fails()
            assert told.value.reason == reason
        err = _Err(Broken(fault), write_through=True)
        assert err.write("text") == 4
        err.flush()
        late = _Err(Broken(fault))
        late.write("text")
        assert late.flush() is None


def test_streams_are_renewed_with_their_encoding_or_opened_where_they_are_closed():
    raw = io.BytesIO()
    before = io.TextIOWrapper(raw, encoding="ascii", line_buffering=True)
    streams.codecs.register_error("plain", _plainly)
    after = _renewed(before, 1, _Out)
    assert (after.encoding, after.errors, after.line_buffering) == ("ascii", "plain", True)
    print("5° ü", file=after)
    assert raw.getvalue() == b"5 deg \\u00fc\n"
    other = io.StringIO()
    assert _renewed(other, 1, _Out) is other
    reading, writing = os.pipe()
    opened = _renewed(None, writing, _Err)
    assert (opened.encoding, opened.errors) == ("utf-8", "plain")
    opened.write("told")
    opened.flush()
    assert os.read(reading, 9) == b"told"
    opened.close()
    os.fstat(writing)
    for number in (reading, writing):
        os.close(number)


def test_closed_numbers_are_filled_and_given_up_ones_lead_nowhere(monkeypatch):
    opened, doubled, real = [], [], os.fstat

    def stated(number):
        if number in (0, 2):
            raise OSError
        return real(number)

    with monkeypatch.context() as patched:
        patched.setattr(os, "fstat", stated)
        patched.setattr(os, "open", lambda path, how: opened.append((path, how)) or 7)
        patched.setattr(os, "dup2", lambda *numbers: doubled.append(numbers))
        streams._fill_gaps()
        streams.give_up()
    assert opened == [(os.devnull, os.O_RDWR), (os.devnull, os.O_RDWR), (os.devnull, os.O_WRONLY)]
    assert doubled == [(7, 1)]


def test_both_streams_are_prepared_each_with_its_number(monkeypatch):
    made = []
    monkeypatch.setattr(streams, "_fill_gaps", lambda: None)
    monkeypatch.setattr(streams, "_renewed", lambda stream, number, kind: made.append((number, kind)) or stream)
    streams.prepare()
    assert made == [(1, _Out), (2, _Err)]


# ---- what is told ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def job():
    return sample_job()


def test_notes_go_to_errors_and_the_place_to_the_output_unless_it_is_quiet(capsys, tmp_path):
    telling.tell_written((WARNING,), tmp_path / "out", quiet=False)
    assert capsys.readouterr() == (f"written: {tmp_path / 'out'}\n", f"{WARNING}\n")
    telling.tell_written((WARNING,), tmp_path / "out", quiet=True)
    assert capsys.readouterr() == ("", f"{WARNING}\n")


def test_a_job_is_told_in_the_shops_unit(job, capsys):
    inch = replace(job, problems=(WARNING,), sheet=replace(job.sheet, unit="in"))
    telling.tell_job(inch, quiet=False, json=False)
    out, err = capsys.readouterr()
    assert "1 in (25.4 mm)" in err
    assert err.count("\n") == 1
    assert " in (" in out
    telling.tell_job(replace(job, problems=()), quiet=True, json=False)
    assert capsys.readouterr() == ("", "")
    telling.tell_job(replace(job, problems=(WARNING,)), quiet=True, json=True)
    out, err = capsys.readouterr()
    assert out.startswith("{")
    assert err == ""


def test_a_summary_has_a_line_for_every_pad_and_piece_with_their_figures(job):
    lines = summary(job).splitlines()
    assert lines[0] == f"{job.sheet.name}, in {job.leather.name}"
    assert lines[-1] == f"  {job.seconds:.1f} s"
    for pad in job.pads:
        (line,) = [line for line in lines if line.startswith(f"  {pad.pad.name}: cover ")]
        area, (thin, thick) = pad.facts.area_mm2, pad.facts.thickness_mm
        off = max((profile.residual_mm for profile in pad.facts.profiles), default=0.0)
        padding = f"padding {span(f'{thin:.0f}', f'{thick:.0f}')} mm" if thick > 0.0 else "no padding"
        assert f"cover {area / 1e6:.2f} m2, {padding}" in line
        assert ("profiles met" in line) == bool(pad.facts.profiles)
        assert not pad.facts.profiles or line.endswith(f"profiles met within {off:.2f} mm")
    head = next(k for k, line in enumerate(lines) if line.startswith("  piece"))
    wide = max(len(f"{piece.pad} {piece.name}") for piece in job.pieces)
    assert lines[head].index("demand") == wide + 4 + 22 + 1
    rows = [line for line in lines[head + 1 :] if " %  " in line]
    assert len(rows) == len(job.pieces)
    for row, piece in zip(rows, job.pieces, strict=True):
        flat = job.flats[piece.panels[0]]
        assert row.startswith(f"  {piece.pad} {piece.name}".ljust(wide + 2) + f"  {piece.count_text}")
        assert f"{100 * flat.demand:.1f} %" in row
        assert f"{100 * flat.budget:.1f} %" in row
        assert str(flat.verdict) in row
    off = sum(not seam.sews for seam in job.seams)
    assert lines[-2] == f"  seams: {len(job.seams)}, of which {off} differ by more than a hand eases in"


def test_a_summary_tells_of_rest_sides_and_pieces_without_a_budget(job):
    pad = job.pads[0]
    figures = {"height_change_mm": (-7.4, 2.0), "foam_compression_max": 0.314, "spring_deflection_mm": 3.26}
    rest = SimpleNamespace(foam_layers=(False, True), **figures)
    facts = replace(pad.facts, left_right=(("depth", 0.5), ("drop", -0.49), ("width", -3.0)))
    resting = replace(pad, pad=replace(pad.pad, springs=Springs(0.05)), rest=rest, facts=facts)
    first = job.pieces[0]
    name = first.panels[0]
    plain = replace(job.flats[name], judgement=replace(job.flats[name].judgement, budget=None, verdict=None, over=None))
    bad = replace(job.seams[0], mismatch_mm=9.0)
    changed = replace(job, pads=(resting, *job.pads[1:]), flats={**job.flats, name: plain}, seams=(bad, *job.seams[1:]))
    lines = summary(changed).splitlines()
    assert lines[2] == "    cover at rest 7 mm down at most, foam crushed by 31 % at most, springs down by 3.3 mm"
    assert "    right is +0.5 mm against left: depth" in lines
    assert "    right is -3.0 mm against left: width" in lines
    assert not any("drop" in line for line in lines)
    row = next(line for line in lines if line.startswith(f"  {first.pad} {first.name} "))
    assert row.endswith(" %       -  -")
    off = sum(not seam.sews for seam in changed.seams)
    assert off >= 1
    assert f"of which {off} differ" in lines[-2]


def test_a_cover_that_hardly_goes_down_is_not_told_to_go_down_by_nothing(job):
    figures = {"height_change_mm": (-0.3, 0.0), "foam_compression_max": 0.0, "spring_deflection_mm": 0.0}
    rest = SimpleNamespace(foam_layers=(False,), **figures)
    resting = replace(job.pads[0], pad=replace(job.pads[0].pad, springs=Springs(0.05)), rest=rest)
    lines = summary(replace(job, pads=(resting, *job.pads[1:]))).splitlines()
    assert "    cover at rest less than 1 mm down at most, springs do not go down" in lines


# ---- pictures saved by view -----------------------------------------------------------------------------------------


def png(colour=(200, 10, 10)):
    held = io.BytesIO()
    Image.new("RGB", (9, 7), colour).save(held, "PNG")
    return held.getvalue()


def test_a_seal_is_a_text_of_the_picture_that_any_reader_takes():
    picture = sealed(png())
    assert has_seal(picture)
    assert not has_seal(png())
    assert len(picture) - len(png()) == _SEAL == 12 + 14 + 64
    image = Image.open(io.BytesIO(picture))
    image.load()
    assert image.getpixel((3, 3)) == (200, 10, 10)
    assert list(image.text) == ["trimloft view"]
    assert len(image.text["trimloft view"]) == 64
    # Length, name, text and check, as the PNG specification has them.
    assert picture[33:37] == (14 + 64).to_bytes(4, "big")
    assert picture[37:41] == b"tEXt"
    assert picture[33 + _SEAL - 4 : 33 + _SEAL] == zlib.crc32(picture[37 : 33 + _SEAL - 4]).to_bytes(4, "big")
    for k in (40, 60, len(picture) - 20):
        assert not has_seal(picture[:k] + bytes([picture[k] ^ 1]) + picture[k + 1 :])
    assert not has_seal(b"")


def refused(what, *given, **more):
    with pytest.raises(ProblemError) as told:
        what(*given, **more)
    (problem,) = told.value.problems
    return problem.code, str(problem)


def test_a_view_is_checked_before_the_work(tmp_path):
    code, text = refused(check_view, "inside", tmp_path / "a.png")
    assert code == "V103"
    assert "panels, stretch, compression, settled, padded or support" in text
    assert refused(check_view, "panels", tmp_path / "a.jpg")[0] == "V104"
    assert check_view("panels", tmp_path / "a.PNG") is None
    (tmp_path / "folder.png").mkdir()
    assert refused(check_view, "panels", tmp_path / "folder.png")[0] == "P001"
    assert refused(check_view, "panels", tmp_path / "nowhere" / "a.png")[0] == "P004"
    mine = tmp_path / "mine.png"
    mine.write_bytes(png())
    assert refused(check_view, "panels", mine)[0] == "P101"
    mine.write_bytes(sealed(png()))
    assert check_view("panels", mine) is None
    link = tmp_path / "link.png"
    link.symlink_to(mine)
    assert refused(check_view, "panels", link)[0] == "P101"
    assert refused(check_view, "panels", tmp_path / ("x" * 300 + ".png"))[0] == "P004"
    assert refused(check_view, "panels", Path("a\0.png"))[0] == "P004"


@pytest.fixture
def shot(monkeypatch):
    """Scenes and pictures made at once; what was asked for."""
    asked = []
    image = Image.new("RGB", (9, 7), (90, 90, 90))
    monkeypatch.setattr(seat_view, "scene", lambda job, show: asked.append(show) or f"scene {show}")
    monkeypatch.setattr(seat_view, "pictures", lambda shots: SimpleNamespace(images=[image], reason="no screen"))
    monkeypatch.setattr(seat_view, "painted_note", lambda reason: (replace(WARNING, text=reason),) if reason else ())
    return asked


def test_a_picture_replaces_only_one_saved_before(shot, tmp_path, capsys):
    place = tmp_path / "seat.png"
    view_sheet(None, save=place, show="padded")
    assert shot == ["padded"]
    first = place.read_bytes()
    assert has_seal(first)
    assert Image.open(place).size == (9, 7)
    assert "no screen" in capsys.readouterr().err
    view_sheet(None, save=place)
    assert shot[-1] == "panels"
    assert place.read_bytes() == first
    place.write_bytes(first + b"x")
    assert refused(view_sheet, None, save=place)[0] == "P101"
    assert place.read_bytes() == first + b"x"


def test_a_window_shows_what_was_asked_for_first(shot, monkeypatch):
    shown = []
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setattr(seat_view, "window", lambda scenes: shown.append(list(scenes.items())))
    view_sheet(None, show="settled")
    (scenes,) = shown
    assert scenes[0] == ("settled", "scene settled")
    assert [name for name, _ in scenes[1:]] == [name for name in seat_view.SHOWS if name != "settled"]


# ---- what is written ------------------------------------------------------------------------------------------------


class Folder:
    """Takes the files it is given."""

    def __init__(self):
        self.files = {}

    def write(self, files):
        self.files = files
        return (WARNING,)


KINDS = {".pdf": "patterns_pdf", "-roll.pdf": "roll_pdf", ".svg": "patterns_svg", ".dxf": "patterns_dxf"}


@pytest.fixture
def papers(monkeypatch):
    """Papers that say what they were given instead of being drawn."""
    for name in KINDS.values():
        monkeypatch.setattr(drawn_papers, name, lambda pieces, _name=name, **given: (_name, tuple(pieces), given))
    monkeypatch.setattr(drawn_papers, "cutlist_csv", lambda job: b"list")
    monkeypatch.setattr(drawn_papers, "seat_glb", lambda job: b"seat")
    monkeypatch.setattr(job_folder, "report_html", lambda job, drawn, more: (job, dict(drawn)))
    monkeypatch.setattr(job_folder, "report_bytes", lambda job, more: job)


def test_all_files_are_made_with_the_sheets_choices_and_every_step_is_told(job, papers):
    folder, said = Folder(), []
    sheet = replace(job.sheet, output=replace(job.sheet.output, page="letter", overlap=12.0, roll_width=777.0))
    job = replace(job, sheet=sheet)
    found, notes = write_job(job, folder, pictures=False, say=lambda *told: said.append(told))
    assert (found, notes) == (job, (WARNING,))
    files = folder.files
    shapes = tuple(shape for plan in job.plans for shape in plan.drawn)
    assert shapes
    for name, wording in (("patterns", None), ("padding", "Padding shapes")):
        drawn = (*job.pieces, *job.others) if name == "patterns" else shapes
        for file, kind in KINDS.items():
            made, pieces, given = files[name + file]
            assert (made, pieces) == (kind, drawn)
            assert given["imprint"].job == sheet.name
            if file == ".pdf":
                assert (given["page"], given["overlap_mm"]) == ("letter", 12.0)
            else:
                assert given["roll_width_mm"] == 777.0
            if file == ".dxf":
                assert given["version"] == sheet.output.dxf
            elif wording:
                assert given["wording"].title == wording
    assert files["report.html"] == (job, {})
    assert files["report.json"] is job
    steps = [told for told in said if told[0] != "drawing the seat"]
    made = [name for name in files if name not in ("report.html", "report.json")]
    assert [told[0] for told in steps] == [*made, "report"]
    assert [told[1] for told in steps] == list(range(1, len(steps) + 1))
    assert {told[2] for told in steps} == {len(steps) + 1}
    write_job(job, folder, page="A3", pictures=False)
    assert folder.files["patterns.pdf"][2]["page"] == "a3"
    assert refused(write_job, job, folder, page="a9", pictures=False)[0] == "P201"
    assert paper_named("LETTER") == "letter"


def test_papers_drawn_beside_are_the_same(job):
    """Drawn by two processes while pieces are laid out here, or one after the other: the same bytes."""
    alone, beside = Folder(), Folder()
    write_job(job, alone, pictures=False)
    said = []
    with worker_pool(2) as pool:
        pool.start()
        write_job(job, beside, pictures=False, say=lambda *told: said.append(told[0]), workers=pool)
    assert beside.files == alone.files
    assert "the papers" in said
    assert "patterns.pdf" not in said


def test_mirrored_pieces_are_drawn_too_where_both_are_asked_for(job, papers):
    folder = Folder()
    write_job(job, folder, pictures=False, both=True)
    drawn = folder.files["patterns.pdf"][1]
    mirrored = sum(piece.mirrored_count > 0 for piece in (*job.pieces, *job.others))
    assert mirrored
    assert len(drawn) == len(job.pieces) + len(job.others) + mirrored
    assert not any(piece.mirrored_count for piece in drawn)
    assert not any(piece.mirrored_count for piece in folder.files["padding.dxf"][1])
    write_job(replace(job, plans=()), folder, pictures=False)
    assert not any(name.startswith("padding") for name in folder.files)


def test_pictures_are_taken_or_it_is_said_why_not(job, papers, monkeypatch, tmp_path):
    folder, said = Folder(), []
    place = tmp_path / "seat-front.png"
    place.write_bytes(b"picture")
    monkeypatch.setattr(job_folder, "seat_pictures", lambda job, where: ({"front": place}, (WARNING,)))
    found, _ = write_job(job, folder, say=lambda *told: said.append(told))
    assert folder.files["seat-front.png"] == b"picture"
    assert found.problems == (*job.problems, WARNING)
    assert folder.files["report.html"] == (found, {"front": place})
    assert said[0][:2] == ("drawing the seat", 0)
    faults = ((OSError(28, "no space"), "no space"), (OSError("odd"), "odd"), (ProblemError([WARNING]), WARNING.text))
    for fault, words in faults:

        def broken(fault=fault):
            raise fault

        monkeypatch.setattr(job_folder, "temporary_folder", broken)
        found, _ = write_job(job, folder)
        assert found.problems[-1].code == "V105"
        assert found.problems[-1].warning
        assert f"({words})" in found.problems[-1].text
        assert "seat-front.png" not in folder.files
        assert folder.files["report.html"][1] == {}


@pytest.mark.parametrize("way", ["plain", "quiet", "json"])
@pytest.mark.parametrize("apply", [False, True])
@pytest.mark.parametrize("into", [False, True])
def test_relief_of_a_sheet_prints_and_writes_as_asked(way, apply, into, monkeypatch, capsys, tmp_path):
    asked, wrote = {}, []
    folder = object() if into else None

    @contextlib.contextmanager
    def opened(out, writer):
        asked["writer"] = writer
        yield folder

    @contextlib.contextmanager
    def crew(count):
        asked["crew"] = count
        yield "pool"

    @contextlib.contextmanager
    def bar(*, quiet):
        asked.setdefault("bars", []).append(quiet)
        yield "say"

    found, done = SimpleNamespace(advice=("advice",)), SimpleNamespace(job="cut job")
    for name, what in {
        "folder_if": opened,
        "kept_on_disk": lambda wanted: {"kept": wanted},
        "kept_pool": crew,
        "progress": bar,
        "foretold": lambda sheet, *, quiet: asked.__setitem__("foretold", quiet) or "read",
        "price_table": lambda sheet: asked.__setitem__("prices of", sheet) or {},
        "sheet_for_hides": lambda read, **given: asked.__setitem__("parted", (read, given)) or read,
        "relieve_sheet": lambda read, **given: asked.__setitem__("sought", (read, given)) or found,
        "apply_until_it_fits": lambda one, **given: asked.__setitem__("cut", (one, given)) or done,
        "relief_json": lambda advice: '{"panels": []}',
        "relief_text": lambda advice: f"proposals: {advice}",
        "applied_text": lambda one, two: "cut: 2",
        "tell_job": lambda job, *, quiet, json, written=None: print("job", job, quiet, json),
        "write_job": lambda job, where, **given: (
            wrote.append(("job", job, where, given)) or ("written job", (WARNING,))
        ),
        "write_relief": lambda one, where: wrote.append(("relief", one, where)) or (WARNING,),
    }.items():
        monkeypatch.setattr(relief_command, name, what)
    quiet, json = way == "quiet", way == "json"
    notes = relief_command.relieve_and_tell(
        tmp_path, tmp_path if into else None, apply=apply, every=True, told=Running(quiet=quiet, json=json)
    )
    assert notes == ((WARNING,) if into else ())
    assert asked["crew"] == {"kept": True}
    assert asked["writer"] is (relief_command.APPLY if apply else relief_command.RELIEF)
    assert asked["parted"] == ("read", {"progress": "say", "workers": "pool"})
    assert asked["sought"] == ("read", {"every": True, "progress": "say", "workers": "pool"})
    assert asked["foretold"] == (quiet or json)
    assert set(asked["bars"]) == {quiet or json}
    assert ("cut" in asked) == apply
    if apply:
        assert asked["cut"] == (found, {"progress": "say", "workers": "pool"})
    beside = {"say": "say", "workers": "pool"}
    assert wrote == ([("job", "cut job", folder, beside) if apply else ("relief", found, folder)] if into else [])
    out = capsys.readouterr().out
    told = "written job" if into else "cut job"
    expected = {
        "quiet": "",
        "json": '{"panels": []}',
        "plain": "proposals: ('advice',)\n" + (f"cut: 2\njob {told} False False\n" if apply else ""),
    }
    assert out == expected[way]


def test_start_says_what_it_wrote_and_what_comes_next(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert cli.start(Path("new.toml"), like="bench") == 0
    said = "new.toml written. Fill in what you measured, then: trimloft make new.toml --out patterns\n"
    assert capsys.readouterr().out == said
    whole = tmp_path / "whole.toml"
    assert cli.start(whole) == 0
    assert len(whole.read_text()) > 2 * len((tmp_path / "new.toml").read_text())
    assert refused(cli.start, whole)[0] == "P101"
    assert refused(cli.start, tmp_path / "x.toml", like="throne")[0] == "C108"


def test_view_makes_the_job_and_says_where_the_picture_is(tmp_path, monkeypatch, capsys):
    shown = []
    monkeypatch.setattr("flatten.app.progress.foretold", lambda sheet, **_: f"read {sheet}")
    monkeypatch.setattr("flatten.hides.parted.make_for_hides", lambda asked, **_: f"job of {asked}")
    monkeypatch.setattr("flatten.app.seat_view.view_sheet", lambda job, **given: shown.append((job, given)))
    assert cli.view(Path("s.toml"), save=tmp_path / "a.png", show="padded") == 0
    assert shown == [("job of read s.toml", {"save": tmp_path / "a.png", "show": "padded"})]
    assert capsys.readouterr().out == f"written: {tmp_path / 'a.png'}\n"
    monkeypatch.setenv("DISPLAY", ":0")
    assert cli.view(Path("s.toml")) == 0
    assert shown[-1][1] == {"save": None, "show": "panels"}
    assert capsys.readouterr().out == ""


def test_make_draws_as_it_was_asked(job, tmp_path, monkeypatch):
    given = {}
    monkeypatch.setattr("flatten.app.progress.foretold", lambda sheet, **_: sheet)
    monkeypatch.setattr("flatten.hides.parted.make_for_hides", lambda asked, **_: job)
    monkeypatch.setattr("flatten.orders.prices.price_table", lambda sheet: {})

    def wrote(made, folder, **more):
        given.update(more, job=made)
        return made, ()

    monkeypatch.setattr("flatten.written.job_folder.write_job", wrote)
    quiet = Running(quiet=True)
    usual = DrawingOptions()
    assert (usual.page, usual.pictures, usual.flesh_up, usual.both) == (None, True, False, False)
    cli.make(Path("s.toml"), out=tmp_path / "a", telling=quiet)
    assert given["job"] is job
    assert (given["page"], given["pictures"], given["both"]) == (None, True, False)
    asked = DrawingOptions(page="A3", pictures=False, flesh_up=True, both=True)
    cli.make(Path("s.toml"), out=tmp_path / "a", drawing=asked, telling=quiet)
    assert all(piece.flesh_up for piece in given["job"].pieces)
    assert (given["page"], given["pictures"], given["both"]) == ("A3", False, True)
    ways = [Running(quiet=quiet, json=json).no_words for quiet in (False, True) for json in (False, True)]
    assert ways == [False, True, True, True]


@pytest.mark.parametrize(("unit", "wanted"), [("in", "1 1/4 in (31.0 mm)"), ("mm", "by 31.0 mm")])
def test_a_refused_sheet_is_told_in_its_own_unit(tmp_path, unit, wanted):
    """31.0 mm are 1.22 in, so 1 1/4 on a tape of sixteenths; a refusal of an inch sheet speaks as its report would."""
    sheet = tmp_path / "seat.toml"
    sheet.write_text(f'unit = "{unit}"\n')
    problem = Problem("G110", "pad", "the support misses this profile by 31.0 mm", file=str(sheet), line=1)
    (line,) = telling.in_the_sheets_unit([str(problem)], [problem])
    assert wanted in line
    assert line.startswith(f"{sheet}:1: G110")
    # What cannot be read has no unit of its own.
    sheet.write_text("unit = ")
    assert telling.in_the_sheets_unit(["31.0 mm"], [problem]) == ["31.0 mm"]
    sheet.unlink()
    assert telling.in_the_sheets_unit(["31.0 mm"], [problem]) == ["31.0 mm"]
