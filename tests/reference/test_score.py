"""The score that `make score` prints in full, on four captures, with floors that must hold."""

from __future__ import annotations

import pytest

from tests.reference import score
from tests.reference.predictions import GENERATORS, naive_says, scorer


def test_the_naive_method_is_the_published_one() -> None:
    """Counting and stages of our naive method agree with the figures published with the truth."""
    published = score.published()
    for part, name in (("c07", "c07_equalize_24v"), ("c13", "c13_aged_flooded_12v_deep_cycle")):
        path = GENERATORS["first"] / f"{name}.csv.gz"
        truth, _, told = scorer().load_truth(str(path))
        result = scorer().score_capture(truth, told, naive_says(path, hide=False).columns)
        row = scorer().summarise({part: result})[0]
        assert row["macro_f1_clear"] == pytest.approx(published[name]["macro_f1_clear"], abs=0.02)
        assert row["soc_rmse"] == pytest.approx(published[name]["soc_rmse"], abs=0.05)
        assert row["soc_max"] == pytest.approx(published[name]["soc_max"], abs=0.2)


@pytest.mark.parametrize(
    ("generator", "name", "way"),
    [
        ("first", "c17_no_sense_leads_12v", "given"),
        ("second", "k05_lfp_24v_cycling", "hidden"),
        pytest.param("first", "c08_lfp_12v", "given", marks=pytest.mark.slow),
        pytest.param("first", "c08_lfp_12v", "hidden", marks=pytest.mark.slow),
        pytest.param("first", "c17_no_sense_leads_12v", "hidden", marks=pytest.mark.slow),
        pytest.param("second", "k05_lfp_24v_cycling", "given", marks=pytest.mark.slow),
    ],
)
def test_floors(generator: str, name: str, way: str) -> None:
    """Well below what is reached (see `make score`), well above what a broken engine reaches."""
    one = score.score_one((generator, GENERATORS[generator] / f"{name}.csv.gz", way))
    row = scorer().summarise({name: one.ours})[0]
    assert row["macro_f1_clear"] > 0.90
    assert row["false_day"] < 4
    assert row["soc_rmse"] < 2.5
    assert row["cov_soc"] > 0.85
    assert row["ttf_50"] < 0.35
    assert row["cov_ttf"] > 0.75
