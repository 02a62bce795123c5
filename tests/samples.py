"""A small whole job for the tests of what is written: real records, coarse triangles. All measurements invented."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from flatten.job.make import Job, make

# Names carry what HTML and spreadsheets must not take for their own; the left drop makes the pad uneven.
BENCH = """\
name = "Pilot's bench & friends"
unit = "mm"

[cover]
leather = "firm"

[allowance]
sewn = 12
welted = 14
pulled = 50
closed = 25
notch_spacing = 90

[output]
mesh = 16

[[pad]]
name = "=cushion"
kind = "cushion"
origin = [0, 0, 350]
rake = 5

[pad.outline]
front_width = 420
rear_width = 400
depth = 300
corner_radius = 50

[[pad.profile]]
direction = "along"
at = 0
points = [[0, 0], [80, 26], [200, 34], [300, 4]]

[pad.sides.front]
drop = 80
edge_radius = 20
band = true
seam_below = 5
welt = true

[pad.sides.right]
drop = 80
edge_radius = 20
band = true
seam_below = 5

[pad.sides.rear]
drop = 70
edge_radius = 20
closed_by_hand = true

[[pad.layer]]
material = "foam_medium"
thickness = 20
where = "face"

[[pad.layer]]
material = "wadding"
thickness = 8
where = "front"
within = 60

[[pad]]
name = "back"
kind = "backrest"
origin = [0, 300, 420]
rake = 12

[pad.outline]
bottom_width = 380
top_width = 330
depth_left = 260
depth_right = 264
corner_radius = 30

[pad.sides.top]
drop = 40
edge_radius = 2
band = true

[pad.sides.right]
drop = 40
edge_radius = 2
band = true

[pad.sides.left]
drop = 40
edge_radius = 2
band = true

[pad.sides.bottom]
drop = 40
edge_radius = 2
band = true
closed_by_hand = true
"""


@cache
def sample_job() -> Job:
    """The job on BENCH, done once for all tests; its records are never changed."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "bench.toml"
        path.write_text(BENCH, encoding="utf-8")
        return make(path, workers=1)
