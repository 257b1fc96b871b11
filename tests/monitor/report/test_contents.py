"""What a report says, in which order, and that all three forms say all of it."""

from __future__ import annotations

import re
import zlib
from collections.abc import Callable
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from monitor.commission.record import CommissionRecord, Verdict
from monitor.report.contents import document
from monitor.report.document import Caution, Defect, Heading, Plot, Table
from monitor.report.drawing import WIDTH, Box, Run, Words, height_of, marks_of, scale
from monitor.report.html import html
from monitor.report.plain import COLUMNS, plain
from monitor.report.recording import plots
from monitor.words.commission import MARK
from tests.monitor.report.records import EMPTY, FAILED, GOOD, NASTY, RECORDS, making


class Page(HTMLParser):
    """Words of a page, and every tag with its attributes; unclosed ones are an error."""

    VOID = frozenset({"meta", "col"})

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def pdf_text(record: CommissionRecord, paper: str = "a4") -> str:
    pytest.importorskip("reportlab", reason="the extra report is not installed")
    from monitor.report.pdf import pdf

    return words_of_pdf(pdf(document(making(record)), paper))


def words_of_pdf(data: bytes) -> str:
    """What a reader would copy out: glyphs by each font's own map to Unicode (ISO 32000, 9.10)."""
    objects = {
        int(number): body for number, body in re.findall(rb"(?s)(\d+) 0 obj\n(.*?)endobj", data)
    }
    fonts: dict[bytes, dict[int, str]] = {}
    for name, number in re.findall(rb"/(F\d+\+?\d*) (\d+) 0 R", data):
        to_unicode = re.search(rb"/ToUnicode (\d+) 0 R", objects[int(number)])
        if to_unicode:
            fonts[name] = _glyphs(_stream(objects[int(to_unicode[1])]))
    shown = []
    for body in objects.values():
        if b"\nstream" not in body or b"/Length1" in body:
            continue
        shown.append(_shown(_stream(body), fonts))
    return " ".join(" ".join(shown).split())


def _stream(body: bytes) -> bytes:
    raw = re.search(rb"(?s)stream\r?\n(.*?)endstream", body)
    assert raw is not None
    text = raw[1].strip()
    if b"ASCII85Decode" in body:
        import base64

        text = base64.a85decode(text.removesuffix(b"~>"))
    return zlib.decompress(text) if b"FlateDecode" in body else text


def _glyphs(cmap: bytes) -> dict[int, str]:
    return {
        int(first, 16): chr(int(sign, 16))
        for first, sign in re.findall(rb"<([0-9A-F]{2})> <[0-9A-F]{2}> <([0-9A-F]{4})>", cmap)
    } | {
        int(first, 16): chr(int(sign, 16))
        for first, sign in re.findall(rb"\n<([0-9A-F]{2})> <([0-9A-F]{4})>", cmap)
    }


def _shown(content: bytes, fonts: dict[bytes, dict[int, str]]) -> str:
    glyphs: dict[int, str] = {}
    words = []
    for font, text in re.findall(rb"(?s)/(F\S+) [\d.]+ Tf|\(((?:\\.|[^\\)])*)\) Tj", content):
        if font:
            glyphs = fonts.get(font, {})
            continue
        plain_bytes = re.sub(
            rb"\\([0-7]{3}|.)",
            lambda m: bytes([int(m[1], 8)]) if len(m[1]) == 3 else m[1],
            text,
        )
        words.append("".join(glyphs.get(each, chr(each)) for each in plain_bytes))
    return " ".join(words)


FORMS: dict[str, Callable[[CommissionRecord], str]] = {
    "html": lambda record: " ".join(Page(html(document(making(record)))).words),
    "text": lambda record: plain(document(making(record))),
    "pdf": pdf_text,
}


def bare(text: str) -> str:
    """Without the blanks and line ends that wrapping puts in."""
    return "".join(text.split())


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("name", RECORDS)
def test_every_form_says_every_verdict_and_every_reason(form: str, name: str) -> None:
    record = RECORDS[name]
    text = bare(FORMS[form](record))
    for each in record.outcomes:
        assert bare(each.title) in text
        assert bare(MARK[each.verdict]) in text
        assert bare(each.why) in text
        assert bare(each.note) in text
        for figure in each.figures:
            assert f"{figure.figure:.4g}" in text
    assert "ab" * 32 in text
    for word in ("Opendefects", "Nottested", "Signatures", "Nextservice", "Localcodes"):
        assert word in text
    if record.clock is not None:
        assert bare(record.clock.words) in text


@pytest.mark.parametrize("form", FORMS)
def test_signs_come_out_right(form: str) -> None:
    text = FORMS[form](FAILED)
    assert bare('"Ωhm" 35 °C') in bare(text)
    assert "±" in text


def test_open_defects_stand_first_and_what_follows_stands_with_its_cause() -> None:
    blocks = document(making(FAILED)).blocks
    sections = [each.words for each in blocks if isinstance(each, Heading) and each.level == 2]
    assert sections[0] == "Open defects"
    assert sections.index("Every check") < sections.index("Not tested")
    defects = [each for each in blocks if isinstance(each, Defect)]
    assert [each.words for each in defects] == [
        "1. Volts ABOVE its limit: 12.10 V to 15.20 V, allowed 10.5 V to 14.8 V",
        "2. the check of absorption",
    ]
    assert any("follows from it: the check of float" in line for line in defects[1].lines)


def test_a_good_one_has_no_defects_and_one_untested_is_not_called_good() -> None:
    assert not [each for each in document(making(GOOD)).blocks if isinstance(each, Defect)]
    text = plain(document(making(EMPTY)))
    assert "No check failed. 2 were not done: see Not tested." in text
    assert "not given" in text
    assert "do not trust the times" in " ".join(text.split())


def test_alarms_are_those_of_the_chemistry_with_the_caution_first() -> None:
    tables = [each for each in document(making(GOOD)).blocks if isinstance(each, Table)]
    rows = [row for each in tables if each.columns == ("It says", "Do first") for row in each.rows]
    words = " ".join(row[0] for row in rows)
    assert "thermal runaway" in words
    assert "lithium plates out" not in words
    cautioned = [row[1] for row in rows if "Caution:" in row[1]]
    assert cautioned
    assert all(each.startswith("Caution:") for each in cautioned)


def test_html_is_escaped_and_asks_the_net_for_nothing() -> None:
    text = html(document(making(FAILED)))
    page = Page(text)
    assert NASTY in " ".join(page.words)
    assert "<script" not in text
    assert {tag for tag, _ in page.tags} & {"script", "link", "img", "iframe", "object"} == set()
    for _, attributes in page.tags:
        assert not attributes.keys() & {"src", "href", "xlink:href", "onload", "srcset"}
    assert "url(" not in text
    assert "@import" not in text
    assert "http:" not in text
    assert "https:" not in text


def test_text_is_eighty_wide() -> None:
    for record in RECORDS.values():
        lines = plain(document(making(record))).splitlines()
        assert max(len(line) for line in lines[:-1]) <= COLUMNS


@pytest.mark.parametrize(("paper", "box"), [("a4", b"595.27"), ("letter", b"612")])
def test_pdf_has_the_paper_and_the_pages(paper: str, box: bytes) -> None:
    pytest.importorskip("reportlab", reason="the extra report is not installed")
    from monitor.report.pdf import pdf

    made = document(making(FAILED))
    data = pdf(made, paper)
    assert re.findall(rb"/MediaBox \[ 0 0 ([\d.]+)", data)[0].startswith(box)
    assert len(re.findall(rb"/Type /Page\b(?!s)", data)) >= 4
    assert pdf(made, paper) == data


def test_a_check_longer_than_a_page_is_printed_whole() -> None:
    story = " ".join(f"word{number}" for number in range(900))
    long = replace(GOOD, outcomes=(replace(GOOD.outcomes[0], note=story),))
    text = pdf_text(long)
    assert "word0 " in text
    assert "word899" in text


def test_a_sign_that_the_pdf_lacks_is_told() -> None:
    record = replace(GOOD, installation=replace(GOOD.installation, owner="电池"))
    text = pdf_text(record)
    assert "??" in text
    assert "question marks" in text
    assert "电池" in html(document(making(record)))


@pytest.mark.parametrize(
    ("figures", "expected"),
    [([12.0, 14.4], (12.0, 15.0, 1.0)), ([20.0, 20.0], (19.9, 20.1, 0.05)), ([], (0.0, 1.0, 0.5))],
)
def test_scales_are_round_and_hold_everything(
    figures: list[float], expected: tuple[float, float, float]
) -> None:
    assert scale(figures) == pytest.approx(expected)


def test_without_a_recording_it_says_so_and_plots_nothing() -> None:
    assert not [each for each in plots(making(GOOD)) if isinstance(each, Plot)]
    assert "none was kept" in plain(document(making(GOOD)))


def test_plots_stay_on_the_page_and_tell_gaps() -> None:
    from monitor.report.curve import Bin, Ends
    from monitor.report.making import Charge, Making

    bins = tuple(
        Bin(Ends(12.0 + n / 10, 12.2 + n / 10), None, None, "bulk", 14.4, None) if n % 4 else Bin()
        for n in range(12)
    )
    charge = Charge(tuple(600.0 * n for n in range(13)), bins, 1_780_000_000.0)
    plot = next(
        each for each in plots(Making(GOOD, making(GOOD).seal, charge)) if isinstance(each, Plot)
    )
    assert [lane.words for lane in plot.lanes] == ["bulk"]
    assert plot.lanes[0].on == ((600.0, 2400.0), (3000.0, 4800.0), (5400.0, 7200.0))
    filled = [each for each in marks_of(plot) if isinstance(each, Run) and each.fill is not None]
    assert len(filled) == 3
    for mark in marks_of(plot):
        match mark:
            case Box(x, y, width, height):
                corners = [(x, y), (x + width, y + height)]
            case Run(points):
                corners = list(points)
            case Words(x, y):
                corners = [(x, y)]
        for x, y in corners:
            assert -0.01 <= x <= WIDTH + 0.01
            assert -0.01 <= y <= height_of(plot) + 0.01


def test_a_replay_that_came_to_something_else_stands_in_the_report() -> None:
    from monitor.report.curve import Bin
    from monitor.report.making import Charge, Making

    charge = Charge((0.0, 1.0), (Bin(),), None)
    made = document(Making(GOOD, making(GOOD).seal, charge, ("float: pass, now FAIL",)))
    assert Caution("float: pass, now FAIL") in made.blocks
    assert "does NOT come to the same" in " ".join(plain(made).split())


def test_verdicts_of_all_kinds_were_looked_at() -> None:
    assert {each.verdict for record in RECORDS.values() for each in record.outcomes} == set(Verdict)


def test_on_a_phone_every_cell_names_its_column() -> None:
    """The heads of the tables are not drawn there: each cell carries its own."""
    text = html(document(making(FAILED)))
    tables = re.findall(r"<table>.*?</table>", text, re.S)
    assert len(tables) > 5
    for table in tables:
        heads = re.findall(r"<th>(.*?)</th>", table)
        for row in re.findall(r"<tr[^>]*>(?=<td)(.*?)</tr>", table, re.S):
            assert re.findall(r'data-column="(.*?)"', row) == heads
