"""No limit is proven above what some map reaches, over panels drawn at random."""

import pytest

from tests.bench.false_floors import judged


@pytest.mark.parametrize("seed", [*range(8), 17, 23])
def test_nothing_is_proven_beyond_what_is_reached(seed):
    found = judged(seed)
    assert found is not None
    reached, proven = found
    assert {claim.by: claim.log for claim in proven if claim.log > reached + 1e-9} == {}
    # A limit that never says anything would pass.
    assert max(claim.log for claim in proven) > 0.02 * reached
