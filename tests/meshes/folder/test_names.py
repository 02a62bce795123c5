"""Names of files: they fit, no two are one, and what is kept never takes a name that is taken."""

import os

from hypothesis import example, given
from hypothesis import strategies as st

from meshes.folder.names import LONGEST_NAME, alike, file_names, is_plain, kept_name, matches

words = st.text(st.characters(exclude_categories=("Cs",)), max_size=300)


@given(st.lists(words, unique=True, max_size=8))
def test_every_word_gets_a_file_name_of_its_own_that_fits(stems):
    names = file_names(stems, ".svg", prefix="relief ")
    assert list(names) == stems
    assert len({alike(name) for name in names.values()}) == len(stems)
    for name in names.values():
        assert len(os.fsencode(name)) <= LONGEST_NAME
        assert is_plain(name)
        assert name.isprintable()
        assert matches(name, ["relief *.svg", "relief.svg"])


def test_names_that_need_nothing_stay_and_the_longest_are_only_cut(tmp_path):
    assert file_names(["cushion face", "Cushion Face"], ".svg") == {
        "cushion face": "cushion face.svg",
        "Cushion Face": "Cushion Face 2.svg",
    }
    long = ["ж" * 200 + end for end in "ab"]
    for stem, name in file_names(long, ".svg").items():
        assert 251 <= len(os.fsencode(name)) <= 255
        assert stem.startswith(name[:100])
        (tmp_path / name).write_bytes(b"")


@given(words.map(lambda word: "a" + word.replace("/", "-").replace("\0", "-")[:60] + ".svg"), st.integers(0, 5))
@example("a\u0131.svg", 1)  # the i without a dot, whose capital is a plain I
def test_what_is_kept_gets_the_next_free_name(name, before):
    present = [name]
    for k in range(before + 1):
        kept = kept_name(name, [one.upper() for one in present])
        assert alike(kept) not in {alike(one) for one in present}
        assert len(os.fsencode(kept)) <= LONGEST_NAME
        assert kept.endswith(f" (kept {k + 1}).svg")
        present.append(kept)
