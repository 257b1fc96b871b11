"""Charts, numerals and colours: drawn right, in one style a row, legible in every theme."""

from __future__ import annotations

import asyncio
import re
from datetime import UTC

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.segment import Segment
from rich.style import Style
from textual.color import Color

from monitor.dashboard.picture import picture
from monitor.dashboard.svg import svg
from monitor.dashboard.themes import THEME_NAMES, THEMES, following
from monitor.dashboard.widgets.blocks import Signs, hanging, rule, standing
from monitor.dashboard.widgets.figure import Figure
from monitor.dashboard.widgets.numerals import figure_rows, figure_width, numeral_rows
from monitor.dashboard.widgets.scales import flow, time_step, volts_range
from monitor.dashboard.widgets.trend import TrendChart
from monitor.dashboard.widgets.trend_rows import band, hours, room, trend_rows
from monitor.engine.snapshot import Stage
from monitor.trend import Column, Trend
from monitor.words.figures import Clock
from monitor.words.sentences import STAGE_WORD
from monitor.words.trend import LETTER, stage_letters
from tests.monitor.dashboard.contrast import contrast
from tests.monitor.dashboard.fake_feed import NORMAL, OFFSET, FakeFeed
from tests.monitor.dashboard.screen_text import running

BLOCKS, LETTERS = Signs.BLOCKS, Signs.LETTERS


def test_columns_stand_in_eighths() -> None:
    assert standing([0.0, 0.125, 0.5, 1.0, None], 1, BLOCKS) == ["▁▁▄█·"]
    assert standing([0.25, 0.75, None], 2, BLOCKS) == [" ▄ ", "▄█·"]


def test_columns_hang_as_the_gap_below_them() -> None:
    """In reverse a full block is empty and a blank is full."""
    assert hanging([0.0, 0.5, 1.0, None], 1, BLOCKS) == ["█▄ █"]
    assert hanging([0.75, 0.25], 2, BLOCKS) == [" ▄", "▄█"]
    assert hanging([0.0, 1.0], 1, LETTERS) == [" #"]


@given(
    st.lists(st.one_of(st.none(), st.floats(-2, 2)), max_size=40),
    st.integers(1, 6),
    st.sampled_from(Signs),
)
def test_rows_are_as_wide_as_the_columns(
    levels: list[float | None], rows: int, signs: Signs
) -> None:
    for drawn in (standing(levels, rows, signs), hanging(levels, rows, signs)):
        assert len(drawn) == rows
        assert {len(row) for row in drawn} == {len(levels)}


def test_a_rule_is_as_long_as_a_rating() -> None:
    assert rule(0.5, 10, BLOCKS) == "━━━━━─────"
    assert rule(0.02, 10, LETTERS) == "=---------"
    assert rule(0.001, 10, LETTERS) == "----------"
    assert rule(1.4, 4, BLOCKS) == "━━━━"
    assert rule(-0.1, 4, BLOCKS) == "────"


@given(st.floats(-2000, 2000), st.floats(-2000, 2000), st.integers(2, 12))
def test_the_current_scale_holds_what_was_measured(one: float, other: float, rows: int) -> None:
    lowest, highest = min(one, other), max(one, other)
    scale = flow(highest, lowest, rows)
    assert scale.rows_in >= 1
    assert scale.rows_in + scale.rows_out <= rows
    assert scale.unit * scale.rows_in >= highest
    assert scale.unit * scale.rows_out >= -lowest


@given(st.lists(st.floats(2, 80), min_size=1, max_size=50))
def test_the_volts_scale_holds_what_was_measured(figures: list[float]) -> None:
    scale = volts_range(figures)
    assert scale.low <= min(figures) + 1e-6
    assert scale.high >= max(figures) - 1e-6
    assert scale.high - scale.low >= 0.39


def test_time_marks_are_distances_people_count_in() -> None:
    assert time_step(6 * 3600, 7) == 3600
    assert time_step(24 * 3600, 7) == 6 * 3600
    assert time_step(3600, 4) == 900


@given(st.integers(0, 40))
def test_rows_are_shared_out_without_loss(height: int) -> None:
    shares = room(height)
    used = shares.amps + shares.volts + shares.soc + 2 * shares.gap + shares.band + shares.hours
    assert used == height
    assert min(shares) >= 0


def test_the_band_has_the_word_of_a_stage_or_its_letter_and_nothing_between() -> None:
    stages = [Stage.BULK] * 8 + [None] * 3 + [Stage.ABSORPTION] * 6 + [Stage.FLOAT] * 2
    assert band(stages, BLOCKS) == "▏bulk   ▏  ▏a    ▏f"
    assert band([None] * 10, LETTERS) == "|no data  "
    for stage in Stage:
        said = {band([stage] * width, BLOCKS)[1:].strip() for width in range(1, 15)}
        assert said == {"", LETTER[stage], STAGE_WORD[stage]}


def test_no_two_stages_share_a_letter_and_the_help_has_them_all() -> None:
    assert len(set(LETTER.values())) == len(Stage)
    for stage, letter in LETTER.items():
        assert f"{letter} {STAGE_WORD[stage]}" in stage_letters()


def test_hours_fall_on_round_local_times() -> None:
    trend = Trend(100_000.0 - 21_600.0, 100_000.0, ())
    marks = hours(trend, 90, Clock(OFFSET, UTC), BLOCKS)
    assert marks.index("▏07:00") == 7
    assert [mark.strip() for mark in marks.split("▏")[1:]] == [
        f"{hour:02d}:00" for hour in range(7, 13)
    ]
    assert "-3 h" in hours(trend, 90, Clock(None), BLOCKS)


def test_a_spike_between_columns_is_drawn() -> None:
    """Means hide what lasts a second; the extremes do not."""
    quiet = Column(0.0, 13.0, amps=-5.0, amps_low=-5.0, amps_high=-5.0, stage=Stage.DISCHARGE)
    spike = Column(60.0, 13.0, amps=-9.0, amps_low=-240.0, amps_high=-5.0, stage=Stage.DISCHARGE)
    rows = trend_rows(Trend(0.0, 120.0, (quiet, spike)), 8, BLOCKS, Clock(None))
    scales = [row.scale for row in rows]
    assert "-300 A" in scales or "-240 A" in scales or "-250 A" in scales
    lowest = [row for row in rows if row.reverse][-1]
    assert lowest.text[0] == "█"
    assert lowest.text[1] != "█"


def test_an_empty_trend_draws_nothing_wrong() -> None:
    rows = trend_rows(Trend(0.0, 60.0, (Column(0.0), Column(30.0))), 12, BLOCKS, Clock(None))
    assert len(rows) <= 12


@given(st.text("0123456789+-.", min_size=1, max_size=6), st.integers(1, 4))
def test_numerals_are_rectangles_of_half_blocks(text: str, scale: int) -> None:
    rows = numeral_rows(text, scale)
    assert len(rows) == 3 * scale
    assert len({len(row) for row in rows}) == 1
    assert set("".join(rows)) <= set(" ▀▄█")


def test_numerals_differ_from_each_other() -> None:
    assert len({tuple(numeral_rows(sign)) for sign in "0123456789+-."}) == 13


def test_units_stand_small_beside_their_numbers() -> None:
    rows = figure_rows((("2", "h"), ("40", "min")))
    assert rows[-1].endswith("min")
    assert " h " in rows[-1]
    assert "h" not in rows[0]
    assert figure_width((("2", "h"), ("40", "min"))) == len(rows[0])


async def test_every_row_of_a_chart_is_one_style() -> None:
    """One style for the scale and one for the drawing: this is what keeps the line quiet."""
    async with running(FakeFeed(NORMAL)) as (board, _):
        chart = board.screen.query_one(TrendChart)
        for y in range(chart.size.height):
            strip = chart.render_line(y)
            assert len(list(strip)) <= 2
            assert all(segment.style is not None for segment in strip)
        figure = board.screen.query_one("#soc", Figure)
        assert all(len(list(figure.render_line(y))) == 1 for y in range(figure.size.height))


@pytest.mark.parametrize("theme", [t for t in THEMES if not t.ansi], ids=lambda t: t.name)
def test_text_has_contrast_in_every_theme(theme: object) -> None:
    """7:1 for text (WCAG 2.2, 1.4.6), 3:1 for drawings (1.4.11)."""
    colours = theme.variables  # type: ignore[attr-defined]
    paper = theme.background  # type: ignore[attr-defined]
    assert contrast(theme.foreground, paper) >= 7  # type: ignore[attr-defined]
    assert contrast(colours["quiet"], paper) >= 7
    assert contrast(colours["ink"], paper) >= 3
    for name in ("low", "medium", "high"):
        assert contrast(colours[name], colours[f"{name}-text"]) >= 7, name


def test_normal_is_grey() -> None:
    """Whatever is drawn while nothing is wrong has next to no hue."""
    for theme in THEMES:
        if not theme.ansi:
            for name in (
                theme.foreground,
                theme.background,
                *(theme.variables[n] for n in ("quiet", "ink")),
            ):
                assert name is not None
                rgb = Color.parse(name)
                assert max(rgb.rgb) - min(rgb.rgb) <= 24, (theme.name, name)


def test_themes_follow_in_a_circle() -> None:
    name, seen = THEME_NAMES[0], []
    for _ in THEME_NAMES:
        seen.append(name)
        name = following(name)
    assert tuple(seen) == THEME_NAMES
    assert name == THEME_NAMES[0]
    assert following("another") == THEME_NAMES[0]


def test_the_picture_is_the_same_every_time_and_needs_nothing_from_outside() -> None:
    first, second = (asyncio.run(picture(FakeFeed(NORMAL))) for _ in range(2))
    assert first == second
    assert first.startswith("<svg")
    assert "Absorption" in first
    outside = first.replace("http://www.w3.org/2000/svg", "")
    assert "http" not in outside
    assert "url(" not in outside


@pytest.mark.parametrize("theme", THEME_NAMES)
def test_a_picture_has_ink_on_paper_in_every_theme(theme: str) -> None:
    drawn = asyncio.run(picture(FakeFeed(NORMAL), size=(40, 15), theme=theme))
    colours = set(re.findall('fill="([^"]+)"', drawn))
    assert len(colours) > 1
    assert all(re.fullmatch("#[0-9a-f]{6}", colour) for colour in colours)


def test_the_picture_draws_reverse_and_escapes() -> None:
    row = [Segment("a<b", Style(color="#ff0000", bgcolor="#000000", reverse=True))]
    drawn = svg([row], 3, "#ffffff", "#000000", "x & y")
    assert '<path fill="#ff0000" d="M0 0h30v20h-30z"/>' in drawn
    assert 'fill="#000000"' in drawn
    assert "a&lt;b" in drawn
    assert "x &amp; y" in drawn
