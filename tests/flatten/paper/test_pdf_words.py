"""Words on a PDF page: where they begin, by which side they stand on their place."""

from unittest.mock import Mock

import pytest

from flatten.draw.fonts import words_width
from flatten.draw.pen import PenLayer
from flatten.paper.pdf_pen import POINTS_PER_MM, PdfPen


@pytest.mark.parametrize("side", [0.0, 0.5, 1.0])
@pytest.mark.parametrize("height_mm", [3.0, 7.5])
def test_words_stand_on_their_place_by_their_side_level_and_halfway_up(side, height_mm):
    canvas = Mock()
    PdfPen(canvas).write((20.0, 30.0), "front band", height_mm=height_mm, side=side)
    x, y, words = canvas.drawString.call_args.args
    assert canvas.translate.call_args.args == pytest.approx((20.0 * POINTS_PER_MM, 30.0 * POINTS_PER_MM))
    assert (x, y) == pytest.approx(
        (-side * words_width(words, height_mm) * POINTS_PER_MM, -0.5 * height_mm * POINTS_PER_MM)
    )
    assert canvas.rotate.call_args.args == (0.0,)


def test_a_pens_words_are_centred_and_level_unless_they_are_turned():
    canvas = Mock()
    PdfPen(canvas).text(PenLayer.SEW, (0.0, 0.0), "front", height_mm=3.0)
    assert canvas.drawString.call_args.args[0] == pytest.approx(-0.5 * words_width("front", 3.0) * POINTS_PER_MM)
    assert canvas.rotate.call_args.args == (0.0,)
