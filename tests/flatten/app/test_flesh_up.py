"""A job drawn for the flesh side: every piece is turned over, and no figure changes."""

import numpy as np

from flatten.figures.report import report, without_seconds
from flatten.report.cut_list import cutlist_csv
from flatten.written.choices import seen_from_flesh
from tests.samples import sample_job


def test_a_whole_job_is_turned_over_and_keeps_its_figures():
    job = sample_job()
    over = seen_from_flesh(job)
    pairs = zip((*job.pieces, *job.others), (*over.pieces, *over.others), strict=True)
    for one, two in pairs:
        assert two.flesh_up
        assert one.side_text != two.side_text or not one.side_text
        assert np.isclose(one.cut_mm2, two.cut_mm2)
    assert cutlist_csv(over) == cutlist_csv(job)
    assert without_seconds(report(over)["panels"]) == without_seconds(report(job)["panels"])
    assert report(over)["seams"] == report(job)["seams"]
