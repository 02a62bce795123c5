"""The report page: one file that needs nothing else, names everything, and takes no text for markup."""

import base64
import csv
import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest
from PIL import Image

from flatten.app.summary import summary
from flatten.demand.develop import flatten
from flatten.maps.flat import Method
from flatten.pieces.pleat_ends import pleat_ends
from flatten.report.advice import extremes, kind_of, next_step, overall
from flatten.report.amounts import welt
from flatten.report.cut_list import cutlist_csv
from flatten.report.edge_lengths import edge_lengths
from flatten.report.markup import fixed, percent
from flatten.report.page import report_html
from flatten.report.pieces import stretched_words
from flatten.report.pleats import pleats_section
from meshes.base.problems import Problem
from meshes.base.units import in_shop_unit, inches
from meshes.records.springs import Springs
from tests.pads import FLAT, built
from tests.samples import sample_job

VOID = {"meta", "img", "br", "hr", "input", "link"}


class Page(HTMLParser):
    """What a page holds: addresses, ids, text, and that every tag is closed in order."""

    def __init__(self, data: bytes) -> None:
        super().__init__()
        self.addresses: list[tuple[str, str]] = []
        self.ids: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(data.decode("utf-8"))
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.addresses += [
            (k, v or "") for k, v in attrs if k in ("src", "href", "srcset", "action", "xlink:href", "data")
        ]
        self.ids += [v or "" for k, v in attrs if k == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).replace("\u00a0", " ").split())


def page(**changes) -> Page:
    return Page(report_html(replace(sample_job(), **changes), {}))


def test_every_tag_is_closed_and_ids_are_single():
    found = page()
    assert found.open == []
    assert len(set(found.ids)) == len(found.ids)


def test_nothing_is_fetched_from_anywhere():
    found = page()
    assert found.addresses
    for name, address in found.addresses:
        assert address.startswith(("#", "data:image/png;base64,")), f"{name}={address[:60]}"
        if address.startswith("#"):
            assert address[1:] in found.ids
    names = {tag for tag, _ in found.tags}
    assert not names & {"script", "link", "iframe", "object", "embed", "form", "base"}
    data = report_html(sample_job(), {}).decode()
    style = re.search(r"<style>(.*?)</style>", data, re.S).group(1)
    assert "url(" not in style
    assert "@import" not in style
    assert "http:" not in data.replace("http://www.w3.org/2000/svg", "")
    assert "https:" not in data


def test_every_piece_seam_and_problem_is_named():
    job, found = sample_job(), page()
    for piece in job.pieces:
        assert f"{piece.pad}: {piece.name}" in found.text
        for edge in piece.edges:
            assert edge.name in found.text
    for seam in job.seams:
        assert seam.name in found.text
    off = sum(not seam.sews for seam in job.seams)
    assert off == 0 or f"{off} that concern seams" in found.text
    for word in ("stretch", "demand", "floor", "budget", "verdict", "cheap cloth", "vapour", "airbags", "needle"):
        assert word in found.text


def test_problems_are_told_with_their_line():
    text = page(problems=(Problem("G055", "pad back", "only one side given", file="a.toml", line=80),)).text
    assert "G055 pad back (line 80 of the sheet) only one side given" in text
    assert "a.toml" not in text


def test_what_to_buy_is_what_the_cut_list_counts():
    job = sample_job()
    rows = list(csv.DictReader(io.StringIO(cutlist_csv(job).decode(), newline="")))
    text = page().text
    for row in rows:
        if row["kind"] == "leather" and row["name"].startswith("to buy"):
            share = row["name"].split()[3]
            assert f"to buy when {share} % of the hide is used {float(row['area_m2']):.2f}" in text
        if row["kind"] == "welt":
            assert f"{row['name'].removeprefix(chr(39))} " in text
            assert f"{float(row['length_mm']):.0f}" in text


def test_lengths_are_said_to_be_shorter_than_on_the_seat_wherever_they_are_compared():
    shares = [100.0 * edge.shorter for edge in edge_lengths(sample_job())]
    words = f"Edges are cut {min(shares):.1f} to {max(shares):.1f} % shorter than they lie on the seat"
    text = page().text
    assert text.count(words) == 2, "in the table of seams and where edges are fixed"
    assert "up to 1.8 times the pull" in text


def test_what_every_panel_was_settled_at_is_told_where_panels_differ():
    job = sample_job()
    apart = {panel.part: 0.15 + 0.01 * k for k, panel in enumerate(job.pads[0].panels)}
    text = page(tensions=(apart, *job.tensions[1:])).text
    assert f"Reckoned with a pull of {150} to {150 + 10 * (len(apart) - 1)} N/m (" in text
    for part, value in apart.items():
        assert f"{part} {1000.0 * value:.0f}" in text
    same = page(tensions=(0.2, *job.tensions[1:])).text
    assert "Reckoned with a pull of 200 N/m the cover rests" in same


def test_the_stretches_of_a_piece_add_up_to_what_it_must_and_may():
    """Least and demand make the most stretch told, least and budget what it may reach; a piece that fits may reach what
    it is stretched."""
    job = sample_job()
    text = page().text
    checked = 0
    for piece in job.pieces:
        flat = job.flats[piece.panels[0]]
        words = " ".join(stretched_words(flat).replace("\u00a0", " ").split())
        assert words in text
        if flat.stretch.min() < 1.0:
            continue
        least, most, demand, reach = (float(value) / 100.0 for value in re.findall(r"(\d+\.\d)(?= to| %)", words))
        assert (1.0 + least) * (1.0 + demand) == pytest.approx(1.0 + most, abs=1.6e-3)
        assert (1.0 + least) * (1.0 + flat.budget) == pytest.approx(1.0 + reach, abs=1.1e-3)
        assert (reach >= most) == (flat.demand <= flat.budget)
        checked += 1
    assert checked


def test_every_edge_that_is_fixed_is_listed_for_the_fitting():
    job = sample_job()
    text = page().text
    fixed_last = [edge for edge in edge_lengths(job) if edge.kind in ("pulled", "closed")]
    assert len(fixed_last) == sum(rim.seam is None for panel in job.panels.values() for rim in panel.rim)
    for edge in fixed_last:
        assert f"{edge.paper_mm:.1f} {edge.seat_mm:.1f} {edge.seat_mm - edge.paper_mm:.1f}" in text


def test_the_verdicts_come_first():
    text = page().text
    # After the verdict the work in its order: buy, pad, cut, sew, fit.
    words = (
        "what to do next",
        "to buy when",
        "Padding, from",
        "Solid line: cut",
        "longer by, and which",
        "centre marks",
    )
    order = [text.index(word) for word in words]
    assert order == sorted(order)


def test_a_verdict_is_said_in_words_and_not_by_colour_alone():
    found = page()
    shown = [
        attrs["class"] for tag, attrs in found.tags if tag == "span" and (attrs.get("class") or "").startswith("v ")
    ]
    # The sample's cushion is too tight, its back fits.
    assert {"v good", "v bad"} <= set(shown)
    assert "✓ fits" in found.text
    assert "✗ too tight" in found.text


def cut_open(job):
    """How many drawings show pads cut open: over the front and over the rear edge of each."""
    settled = [pad for pad in job.pads if pad.sections]
    assert all({cut.ridge.side for cut in pad.sections} >= {pad.pad.side_word("front")} for pad in settled)
    return 2 * len(settled)


def test_tables_have_heads_and_pictures_have_words():
    found = page()
    heads = [attrs.get("scope") for tag, attrs in found.tags if tag == "th"]
    assert set(heads) == {"col", "row"}
    drawings = [attrs for tag, attrs in found.tags if tag == "svg"]
    shapes = [shape for plan in sample_job().plans for shape in plan.drawn]
    assert len(drawings) == len(sample_job().pieces) + 1 + cut_open(sample_job()) + len(shapes)
    assert all(attrs["role"] == "img" and attrs["aria-label"] for attrs in drawings)
    assert dict(found.tags)["html"] == {"lang": "en"}


EVIL = "\"><script>alert(1)</script>&amp;'<b>"


def test_text_is_never_taken_for_markup():
    job = sample_job()
    pads = tuple(replace(pad, pad=replace(pad.pad, name=EVIL)) for pad in job.pads)
    pieces = tuple(replace(piece, pad=EVIL, name=EVIL, notes=(EVIL,)) for piece in job.pieces)
    pieces = tuple(replace(p, edges=tuple(replace(edge, name=EVIL) for edge in p.edges)) for p in pieces)
    seams = tuple(replace(seam, name=EVIL, a=EVIL, b=EVIL) for seam in job.seams)
    found = page(
        sheet=replace(job.sheet, name=EVIL),
        leather=replace(job.leather, name=EVIL, source=dict.fromkeys(job.leather.source, EVIL)),
        pads=pads,
        pieces=pieces,
        seams=seams,
        problems=(Problem(EVIL, EVIL, EVIL),),
    )
    names = {tag for tag, _ in found.tags}
    assert "script" not in names
    assert "b" not in names
    assert found.text.count("<script>alert(1)</script>&amp;") > 20
    assert not found.open
    drawings = [attrs["aria-label"] or "" for tag, attrs in found.tags if tag == "svg"]
    assert sum(EVIL in label for label in drawings) == len(job.pieces) + cut_open(job)


def test_seams_tell_which_side_is_longer():
    seam = replace(sample_job().seams[0], a="short one", b="long one", length_a_mm=400, length_b_mm=405, mismatch_mm=5)
    assert "5.0 mm: long one ✗" in page(seams=(seam,)).text
    turned = replace(seam, length_a_mm=405, length_b_mm=400, mismatch_mm=-5)
    assert "5.0 mm: short one ✗" in page(seams=(turned,)).text
    assert "equal sews" in page(seams=(replace(seam, length_b_mm=400, mismatch_mm=0),)).text


def test_every_sewn_edge_names_the_other_piece():
    job = sample_job()
    partner = {seam.name: {seam.a: seam.b, seam.b: seam.a} for seam in job.seams}
    articles = report_html(job, {}).decode().split("<article")[1:]
    assert len(articles) == len(job.pieces)
    for article, piece in zip(articles, job.pieces, strict=True):
        text = Page(("<article" + article.split("</article>")[0] + "</article>").encode()).text
        for k, edge in enumerate(piece.edges):
            told = {"sewn": "sewn", "welted": "sewn with welt", "pulled": "pulled down", "closed": "closed by hand"}
            other = f" to {partner[edge.seam][piece.panels[0]]}" if edge.seam else ""
            assert f"{k + 1}: {edge.name} {told[edge.kind.value]}{other}" in text


def test_braces_in_names_are_plain_text():
    assert "{leather} {0}" in page(sheet=replace(sample_job().sheet, name="{leather} {0}")).text


def judged_as(flat, **told):
    """The map as if its leather said otherwise."""
    return replace(flat, judgement=replace(flat.judgement, **told))


def test_what_is_not_as_usual_is_told():
    job = sample_job()
    name = job.pieces[0].panels[0]
    odd = judged_as(job.flats[name], verdict=None, budget=None)
    made = replace(odd.made, method=Method.FOLD_FREE_START)
    odd = replace(odd, certificate=replace(odd.certificate, rim_crossings=1), made=made)
    usual, found = page().text, page(flats={**job.flats, name: odd}).text
    for words in ("do not cut this piece", "worked out by fold-free start", "not judged"):
        assert words in found
        assert words not in usual
    assert "Every piece is proven" in usual
    assert "Every piece is proven" not in found


def test_pictures_are_taken_into_the_page(tmp_path):
    path = tmp_path / "seat-front.png"
    Image.new("RGB", (4, 3), (10, 20, 30)).save(path)
    found = Page(report_html(sample_job(), {"seat-front": path, "lost": tmp_path / "lost.png"}))
    images = [attrs for tag, attrs in found.tags if tag == "img"]
    assert len(images) == 1
    assert images[0]["alt"] == "seat front"
    assert base64.b64decode(images[0]["src"].split(",", 1)[1]) == path.read_bytes()


def test_without_seams_or_problems_it_says_so():
    text = page(seams=(), problems=()).text
    assert "every pad is covered in one piece" in text
    assert "None." in text


def tables_of(data: bytes) -> list[tuple[str, list[str], list[list[str]]]]:
    """Caption, heads and rows of every table."""
    found = []
    for body in re.findall(r"<table.*?</table>", data.decode(), re.S):
        caption = (re.findall(r"<caption>(.*?)</caption>", body, re.S) or [""])[0]
        rows = [
            re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.S) for row in re.findall(r"<tr>(.*?)</tr>", body, re.S)
        ]
        found.append((caption, rows[0], rows[1:]))
    return found


def test_every_length_in_a_table_of_an_inch_shop_is_on_the_tape_with_its_mm_beside_it():
    """Read back against the page of the same job in mm: each figure of a column in mm stands in brackets."""
    pleated = built(f"{FLAT}[pad.pleats]\ncount = 4\n", edge_mm=20.0)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pleated.panels}
    for job in (sample_job(), replace(sample_job(), pads=(pleated,), flats=flats)):
        inch = replace(job, sheet=replace(job.sheet, unit="in"))
        both = [pleats_section(one).encode() for one in (job, inch)]
        if job.flats is not flats:
            both = [report_html(one, {}) for one in (job, inch)]
        seen = 0
        for before, after in zip(*map(tables_of, both), strict=True):
            every = before[0].endswith("; mm")
            assert not after[0].endswith("mm")
            for k, title in enumerate(before[1]):
                if not (every or re.search(r"(?<!\bper) mm$", title)) or title == before[1][0]:
                    continue
                assert not re.search(r"(?<!\bper) mm$", after[1][k])
                for old, new in zip((row[k] for row in before[2]), (row[k] for row in after[2]), strict=True):
                    if re.fullmatch(r"[-+]?[\d.]+", old):
                        seen += 1
                        figure = old.removeprefix("+")
                        fine = abs(float(old)) < 25.4 / 32
                        assert f"({figure} mm)" in new or (fine and new == f"{old} mm"), (title, old, new)
        assert seen > 10


def test_a_sheet_in_inches_gets_tape_lengths():
    job = sample_job()
    text = page(sheet=replace(job.sheet, unit="in")).text
    # The leather's thickness, and with it every other length in words, stands beside its inches.
    found = re.findall(r"([\d.]+(?: to [\d.]+)?) mm thick", page().text)
    assert any(" to " in thick for thick in found)
    assert all(f" in ({thick} mm) thick" in text for thick in found)
    # Nor is an area or a length in metres told without what an inch shop buys by.
    bare = re.findall(r"[\d.]+ (?:m²|m\b)", re.sub(r"\([^()]*\)", "", text))
    assert not bare, bare
    assert "sq ft (" in text
    assert re.search(r"in \([\d.]+ × [\d.]+ m\)", text)


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_sizes_on_the_page_are_those_in_the_cut_list(unit):
    """A size rounded to whole millimetres first may read a sixteenth otherwise on the tape."""
    job = sample_job()
    job = replace(job, sheet=replace(job.sheet, unit=unit))
    text = report_html(job, {}).decode()
    listed = list(csv.DictReader(io.StringIO(cutlist_csv(job).decode())))
    rows = [row for row in listed if row["kind"] in ("piece", "padding shape")]
    assert {row["kind"] for row in rows} == {"piece", "padding shape"}
    for row in rows:
        size = f"{row['width_mm']} × {row['height_mm']}"
        if unit == "in":
            size = f"{row['width_in'].removesuffix(' in')} × {row['height_in']} ({size} mm)"
        assert size in text, (row["name"], size)


# Two figures alike, the second after "to" and the first with nothing of a figure before it.
SAID_TWICE = re.compile(r"(?<![\d/.] )(?<![\d/.])(\d[\d/. ]*) to \1(?![\d/.])(?! \d)")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_no_range_has_the_same_figure_twice_and_an_even_layer_is_one_figure(unit):
    job = sample_job()
    sheet = replace(job.sheet, unit=unit)
    even = tuple(replace(pad, facts=replace(pad.facts, thickness_mm=(24.8, 25.2))) for pad in job.pads)
    job = replace(job, sheet=sheet, pads=even)
    told = page(sheet=sheet, pads=even).text + in_shop_unit(summary(job), unit=unit) + cutlist_csv(job).decode()
    assert ("1 in (25 mm) thick" if unit == "in" else "free padding 25 mm thick") in told
    assert not SAID_TWICE.search(told), SAID_TWICE.search(told)
    # The search itself finds what it is for.
    assert SAID_TWICE.search("padding 25 to 25 mm")
    assert SAID_TWICE.search("1 1/4 to 1 1/4 in")
    assert not SAID_TWICE.search("1 1/4 to 1 1/2 in")


def test_nothing_is_said_of_springs_or_foam_where_there_are_none():
    job = sample_job()
    assert job.pads[0].pad.springs is None
    told = page().text + summary(job)
    assert "crushed" in told
    assert "springs go down" not in told
    assert "springs down" not in told
    for mm, said in ((0.04, "springs do not go down"), (1.5, "down by 1.5 mm")):
        sprung = tuple(
            replace(pad, pad=replace(pad.pad, springs=Springs(2.0)), rest=replace(pad.rest, spring_deflection_mm=mm))
            for pad in job.pads
        )
        assert said in page(pads=sprung).text
        assert said in summary(replace(job, pads=sprung))
    stuffed = tuple(
        replace(pad, rest=replace(pad.rest, foam_layers=(False,) * len(pad.rest.foam_layers))) for pad in job.pads
    )
    assert "foam is crushed" not in page(pads=stuffed).text
    assert "foam crushed" not in summary(replace(job, pads=stuffed))


def test_same_bytes_twice():
    assert report_html(sample_job(), {}) == report_html(sample_job(), {})
    slower = replace(sample_job(), seconds=99.0)
    assert report_html(slower, {}) == report_html(sample_job(), {})


def test_advice_by_verdict():
    job = sample_job()
    piece = job.pieces[0]
    flat = job.flats[piece.panels[0]]
    said = {
        v: next_step(piece, judged_as(flat, verdict=v))
        for v in ("fits", "fits with ease", "too tight", "proven too tight", None)
    }
    assert len(set(said.values())) == 5
    assert "seam or dart" in said["too tight"]
    assert any(edge.name in said["too tight"] for edge in piece.edges) or "in the middle" in said["too tight"]
    assert [kind_of(v) for v in said] == ["good", "ease", "bad", "worst", "none"]


def test_advice_names_the_edge_next_to_the_darkest_place():
    job = sample_job()
    piece = next(piece for piece in job.pieces if len(piece.edges) > 3)
    flat = job.flats[piece.panels[0]]
    middles = piece.mesh.points[piece.mesh.triangles].mean(axis=1)
    for k, edge in enumerate(piece.edges):
        worst = int(np.argmin(np.linalg.norm(middles - edge.points[len(edge.points) // 2], axis=1)))
        stretch = np.ones((len(middles), 2))
        stretch[worst] = [1.0, 0.8]
        advice = next_step(piece, judged_as(replace(flat, stretch=stretch), verdict="too tight", use=None))
        assert f"near edge {k + 1} ({edge.name})" in advice
        # With a known budget the place that uses most of it is named.
        used = np.zeros(len(middles))
        used[worst] = 1.2
        assert f"near edge {k + 1} ({edge.name})" in next_step(piece, judged_as(flat, use=used, verdict="too tight"))
        assert extremes(piece, replace(flat, stretch=stretch))[0][1].endswith(f"near edge {k + 1} ({edge.name})")


def test_the_whole_in_one_sentence():
    assert overall(["fits", "fits with ease"]) == "All 2 pieces fit the leather."
    assert overall(["fits", "too tight", "proven too tight"]) == "2 of 3 pieces ask more than the leather gives."
    assert overall(["too tight", "too tight"]) == "No piece fits the leather as it is drawn."
    assert overall(["too tight"]) == "The only piece asks more than the leather gives."
    assert overall(["fits with ease"]) == "The only piece fits the leather."
    assert "judged" in overall(["fits", None])


@pytest.mark.parametrize(
    ("mm", "words"),
    [(520.7, "20 1/2 in"), (25.4, "1 in"), (9.525, "3/8 in"), (0.0, "0 in"), (1219.0, "48 in"), (304.0, "11 15/16 in")],
)
def test_inches_as_on_a_tape(mm, words):
    assert inches(mm) == words


def test_numbers_line_up():
    assert fixed(66.0) == "66.0"
    assert fixed(-0.001, 2) == "0.00"
    assert percent(0.08123) == "8.1\u00a0%"
    assert percent(None) == "–"


def test_pleats_have_a_section_only_where_there_are_some():
    assert 'id="pleats"' not in report_html(sample_job(), {}).decode()
    text = FLAT + "[pad.pleats]\ncount = 6\n"
    pad = built(text, edge_mm=14.0)
    flats = {p.name: flatten(p.surface.vertices, p.surface.triangles) for p in pad.panels}
    page = pleats_section(replace(sample_job(), pads=(pad,), flats=flats))
    assert page.count("<tr>") == 1 + 6 + 1 + len(pleat_ends(pad, flats))
    assert "left pleat 3" in page
    assert "take_up_measured" in page
    _, head, rows = tables_of(page.encode())[0]
    assert head[5:] == ["cut", "take-up", "stitched, slack"]
    for row in rows:
        cut, taken, left = (float(words) for words in row[5:])
        assert cut - taken == pytest.approx(left, abs=0.11)
        assert taken > 0.0


def test_a_welt_is_as_long_wherever_it_is_told_in_inches_and_in_mm():
    job, plan = sample_job(), welt(sample_job())
    for unit in ("mm", "in"):
        told = replace(job, sheet=replace(job.sheet, unit=unit))
        text = page(sheet=told.sheet).text + cutlist_csv(told).decode()
        for length in (plan.sewn_mm, plan.cut_mm):
            # Whatever stands in either to a millimetre of it is written alike.
            mm = {found for found in re.findall(r"(\d+\.\d) mm", text) if abs(float(found) - length) < 0.9}
            tape = {
                words.strip()
                for words, found in re.findall(r"([\d /]+) in \((\d+(?:\.\d+)?) mm\)", text)
                if abs(float(found) - length) < 0.9
            }
            assert len(mm) == 1
            assert len(tape) == (unit == "in")
            assert f"{length / 1000.0:.2f} m of" not in text


def test_the_foot_of_the_page_says_in_what_lengths_are():
    job = sample_job()
    assert "Lengths in millimetres." in page().text
    inch = page(sheet=replace(job.sheet, unit="in")).text
    assert "Lengths in millimetres" not in inch
    assert "Lengths in inches to the nearest sixteenth, with millimetres beside." in inch
