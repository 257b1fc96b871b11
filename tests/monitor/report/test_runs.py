"""Whole commissionings of the simulated coach: the report names exactly the seeded defect."""

from __future__ import annotations

import pytest

from monitor.report.contents import document
from monitor.report.document import Defect
from monitor.report.plain import plain
from monitor.report.told import name_of
from tests.monitor.commission.coach import DEFECTS
from tests.monitor.commission.runs import commission
from tests.monitor.report.records import making


@pytest.mark.slow
@pytest.mark.parametrize("defect", sorted(DEFECTS))
def test_the_report_names_exactly_the_seeded_defect(defect: str) -> None:
    record = commission(3, defect).record
    made = document(making(record))
    (outcome,) = [each for each in record.outcomes if each.key == DEFECTS[defect][1]]
    checks = [
        each.words.partition(". ")[2]
        for each in made.blocks
        if isinstance(each, Defect) and " its limit: " not in each.words
    ]
    assert checks == [name_of(outcome)]
    assert " ".join(outcome.why.split()) in " ".join(plain(made).split())
