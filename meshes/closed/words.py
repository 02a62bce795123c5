"""What is told of a closed cover, in words: how it is smaller than its core, how full it is, how long its zip."""

from meshes.base.files import number
from meshes.seat.build import BuiltPad


def closed_words(pad: BuiltPad) -> str:
    """One sentence on a closed cover; empty for a pad on a frame."""
    closed, facts = pad.pad.closed, pad.closed
    if closed is None or facts is None:
        return ""
    smaller = f"{number(facts.smaller.mm, 1)} mm smaller than its core in all, not on each side ({facts.smaller.row})"
    words = [f"a closed cover, {smaller}" if facts.smaller.mm else "a closed cover of the core's own size"]
    if closed.form == "box":
        words.append(f"each face stands {number(facts.rise_mm, 1)} mm above its rim")
        words.append(f"pulled by its core with {1000.0 * facts.tension_n_per_mm:.0f} N/m")
    words.append(f"zip {number(facts.zip_mm, 1)} mm")
    return ", ".join(words)
