"""The alarms of a capture and their quality, as text."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from monitor.alarm_quality import BENCHMARKS, DAY_SECONDS, GUIDELINE, Quality, Record
from monitor.words.days import named_day
from monitor.words.figures import Clock, span
from monitor.words.sentences import PRIORITY_WORD, unstopped


def moment_of(seconds: float, start: float, clock: Clock) -> str:
    """`Thu 11 Jun 05:00`, or hours and minutes since the start where no wall clock is known."""
    wall = clock.time(seconds)
    if wall is not None:
        return f"{named_day(wall)} {wall:%H:%M}"
    minutes = int((seconds - start) // 60.0)
    return f"{minutes // 60:d}:{minutes % 60:02d} h"


def listed(records: Sequence[Record], start: float, end: float, clock: Clock) -> Iterator[str]:
    """A line an alarm, in the order in which they were raised."""
    shown = [r for r in records if r.raised < end and (r.over is None or r.over >= start)]
    if not shown:
        yield "no alarm"
    width = max((len(record.key) for record in shown), default=0)
    for record in shown:
        how = _ended(record, end)
        yield (
            f"{moment_of(record.raised, start, clock)}  {PRIORITY_WORD[record.priority]:<6}  "
            f"{record.key:<{width}}  {how}; {unstopped(record.words)}"
        )


def _ended(record: Record, end: float) -> str:
    over = record.over
    if over is None or over > end:
        words = f"stands for {span(end - record.raised)}"
    else:
        words = f"stood for {span(over - record.raised)}"
    return words if record.acknowledged is None else f"{words}, acknowledged"


def reported(quality: Quality) -> Iterator[str]:
    """The report: each figure, the published benchmark, and whose it is."""
    days = (quality.end - quality.start) / DAY_SECONDS
    yield f"{quality.alarms} alarms in {span(quality.end - quality.start)}"
    if days < 1.0:
        yield "Less than a day was looked at: the figure a day is only what it would come to."
    yield ""
    yield f"{'':34}{'here':>8}  {'at most':>8}"
    for name, benchmark in BENCHMARKS.items():
        figure = quality.figure(name)
        mark = "  ABOVE" if quality.above(name) else ""
        if name.endswith("_share"):
            here, most = f"{100 * figure:.1f} %", f"{100 * benchmark.at_most:.0f} %"
        else:
            here, most = f"{figure:.3g}", f"{benchmark.at_most:g}"
        yield f"{benchmark.words:34}{here:>8}  {most:>8}{mark}  ({benchmark.source})"
    yield ""
    if quality.mix is not None:
        yield "Priorities, beside the guideline 80/15/5 (EEMUA 191, from memory):"
        for priority, share in GUIDELINE.items():
            word = PRIORITY_WORD[priority].lower()
            yield f"  {word:<7}{100 * quality.mix[priority]:5.0f} %  ({100 * share:.0f} %)"
        yield ""
    for words, keys in (("Chattering", quality.chattering), ("Stale", quality.stale)):
        if keys:
            yield f"{words}: {', '.join(keys)}"
    if quality.worst:
        yield "Most frequent:"
        for actor in quality.worst:
            chatters = ", chatters" if actor.chatters else ""
            yield f"  {actor.times:4d}  {100 * actor.share:3.0f} %  {actor.key}{chatters}"
