"""What a change of every key reaches: only these stages are done again, and all is as from nothing.

One small pad of two panels, with a tension of its own, so that its leather does not decide how it settles.
"""

from tests.running import SHEET

TEXT = SHEET + "[cover]\ntension = 60\n[material.own_foam]\ndensity = 40\ncompression_kpa = [3.0, 4.2, 9.8]\n"
# The stages of a job that are kept. Pieces, seams and papers are drawn anew every time.
ALL = {"built", "flat", "together", "planned"}
MAPS = {"flat", "together"}
# A change of every key of cover, allowance, output and sheet, and of what this pad has, and the stages it reaches.
TABLE: dict[str, tuple[str, set[str]]] = {}
