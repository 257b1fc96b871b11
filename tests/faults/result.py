"""What came of a fault, as a row of the table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Result:
    """`back` are the seconds from each start until the first row was on disk again; `said` is what
    the recorder said that it should not have had to."""

    fault: str
    runs: int
    acknowledged: int
    lost: int
    wrong: int
    back: Sequence[float] = ()
    said: tuple[str, ...] = ()
    note: str = ""
    skipped: str = ""

    @property
    def held(self) -> bool:
        return not (self.wrong or self.said) and (not self.lost or bool(self.note))


@dataclass
class Skipped(Exception):
    """This machine cannot make that fault; why."""

    why: str = field(default="")


_HEAD = "| fault | runs | acknowledged rows | lost | wrong | back after, s (median, worst) |"


def table(results: Iterable[Result]) -> list[str]:
    """Markdown, as it stands in DEVELOPERS.md."""
    lines = [_HEAD, "|---|---|---|---|---|---|"]
    for result in results:
        if result.skipped:
            lines.append(f"| {result.fault} | 0 | not run here: {result.skipped} | | | |")
            continue
        back = sorted(result.back)
        times = f"{back[len(back) // 2]:.2f}, {back[-1]:.2f}" if back else ""
        lost = f"{result.lost}{result.note and ' ' + result.note}"
        lines.append(
            f"| {result.fault} | {result.runs} | {result.acknowledged} | {lost} "
            f"| {result.wrong} | {times} |"
        )
    return lines
