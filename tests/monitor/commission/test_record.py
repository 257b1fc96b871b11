"""The record on disk: what goes in comes out, older files are read, the rest is refused."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.commission import record as r
from monitor.commission.record_file import as_text, from_text, load_record, save_record
from monitor.mishaps import Refusal

_FINITE = st.floats(allow_nan=False, allow_infinity=False)
_TEXT = st.text(st.characters(blacklist_categories=("Cs",)), max_size=12)


def _strategy(kind: type) -> st.SearchStrategy[object]:
    st.register_type_strategy(float, _FINITE)
    st.register_type_strategy(str, _TEXT)
    return st.builds(kind)


@pytest.mark.parametrize(
    "kind",
    [r.Installation, r.Outcome, r.Extreme, r.Sizing, r.Clock, r.Coverage, r.CommissionRecord],
)
def test_what_goes_in_comes_out(kind: type) -> None:
    field = {
        r.Installation: ("installation", False),
        r.Outcome: ("outcomes", True),
        r.Extreme: ("extremes", True),
        r.Sizing: ("sizing", True),
        r.Clock: ("clock", False),
        r.Coverage: ("coverage", False),
    }.get(kind)

    @settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(_strategy(kind))
    def both_ways(value: object) -> None:
        record = value
        if field is not None:
            name, many = field
            record = dataclasses.replace(
                r.CommissionRecord(), **{name: (value,) if many else value}
            )
        assert isinstance(record, r.CommissionRecord)
        assert from_text(as_text(record), "x") == record

    both_ways()


def test_a_file_of_an_older_version_lacks_fields_and_is_read() -> None:
    text = json.dumps(
        {
            "kind": "ampwright commissioning",
            "format": 1,
            "outcomes": [{"id": "a", "title": "b", "verdict": "fail", "gone": 3}],
        }
    )
    read = from_text(text, "x")
    assert [each.id for each in read.defects] == ["a"]
    assert read.installation == r.Installation()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"format": 2}, "expected a record of format 1 to 1, found 2"),
        ({"format": "1"}, "found '1'"),
        ({"kind": "x"}, "expected a commissioning record"),
        ({"outcomes": 3}, "record.outcomes: expected a list, found 3"),
        ({"outcomes": [{"id": "a"}]}, "record.outcomes[0]: expected title, found none"),
        (
            {"outcomes": [{"id": "a", "title": "t", "verdict": "maybe"}]},
            "record.outcomes[0].verdict: expected one of",
        ),
        ({"began": "yesterday"}, "record.began: expected float, found 'yesterday'"),
        ({"began": True}, "record.began: expected float, found True"),
        ({"installation": []}, "record.installation: expected an object"),
    ],
)
def test_what_is_no_record_is_refused_in_one_line(change: dict[str, object], words: str) -> None:
    document = {"kind": "ampwright commissioning", "format": 1, **change}
    with pytest.raises(Refusal) as refused:
        from_text(json.dumps(document), "coach.json")
    assert words in str(refused.value)
    assert str(refused.value).startswith("coach.json: ")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("text", ["", "[]", "{", "\x00", "[" * 100_000])
def test_other_files_are_refused(text: str) -> None:
    with pytest.raises(Refusal, match="expected a commissioning record"):
        from_text(text, "x")


def test_on_disk_it_is_the_old_or_the_new(tmp_path: Path) -> None:
    path = tmp_path / "coach.json"
    assert load_record(path) is None
    save_record(path, r.CommissionRecord(software="one"))
    (tmp_path / "coach.json.new").write_text("half of")
    assert load_record(path) == r.CommissionRecord(software="one")
    save_record(path, r.CommissionRecord(software="two"))
    assert load_record(path) == r.CommissionRecord(software="two")
    assert [each.name for each in tmp_path.iterdir()] == ["coach.json"]
