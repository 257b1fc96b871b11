"""Which views agree with every reading of a meter.

Two tests. Absolute: a candidate stands where the meter stands, within both errors. By difference:
between any two readings it moves as the meter moves, where gain errors cancel; that is what tells
the bank's voltage from one a lead away. A reading is compared with everything that was read around
it, so that a person may be a second late.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import Final, NamedTuple

from adapters.finder.views import Formula, Kind, View, views
from adapters.registers import TYPES, Image

#: Two views of the same register are the same answer where they never differ by more: a float
#: whose low word is wrong shifts 13.4 V by at most 0.06 V (a 23-bit fraction, 7 bits of it in the
#: high word).
_FLOAT_SHARE: Final = 1.0 / 128.0


class Seen(NamedTuple):
    """A reading of the meter: its figure, the size of its last digit, and what was read around."""

    figure: float
    digit: float
    images: tuple[Image, ...]


class Span(NamedTuple):
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A view with a meaning; `spans` are what it showed at each reading, in order."""

    view: View
    formula: Formula
    sign: int
    spans: tuple[Span, ...] = ()

    def figure(self, image: Image, kind: Kind) -> float | None:
        raw = self.view.raw(image)
        return None if raw is None else self.sign * self.formula.figure(raw, kind.unit)

    def at(self, images: Iterable[Image], kind: Kind) -> Span | None:
        """Between which figures it stood; None where it was not there all the time."""
        figures = [self.figure(image, kind) for image in images]
        known = [figure for figure in figures if figure is not None]
        if not known or len(known) < len(figures):
            return None
        return Span(min(known), max(known))

    def step(self, kind: Kind) -> float:
        """What one raw unit changes; a float has no step worth the name."""
        return 0.0 if self.view.kind == "float32" else self.formula.step(kind.unit)

    def oddness(self, kind: Kind) -> float:
        """How unusual it would be: an odd scale, 32 bits at an odd address, a range too small.

        Where a number has an empty word before it, the wide one is taken only if the narrow one
        could not hold what the quantity may become: thousandths of amps in 16 bits end at 32 A.
        """
        wide = TYPES[self.view.kind].registers > 1
        most = (0x7FFF if self.view.kind == "int16" else 0xFFFF) * self.step(kind)
        odd_range = 0.05 if wide else 0.2 if most < kind.most else 0.0
        odd_place = 0.3 if wide and self.view.address % 2 else 0.0
        order = 0.1 if wide and self.view.words_little else 0.0
        return self.formula.oddness + odd_place + odd_range + order


@dataclass(slots=True)
class Search:
    """The search for one quantity. Feed it readings; ask for `answers`."""

    kind: Kind
    seen: list[Seen] = field(default_factory=list)
    candidates: list[Candidate] = field(default_factory=list)

    def read(self, seen: Seen) -> bool:
        """Take a reading of the meter; what disagrees is gone for good.

        False, and nothing is changed, where no candidate would be left: then the reading is more
        likely wrong than all of them (mistyped, or read while it moved).
        """
        tried = self.candidates if self.seen else _near(seen, self.kind)
        self.seen.append(seen)
        kept = [each for one in tried if (each := self._kept(one)) is not None]
        if not kept:
            self.seen.pop()
            return False
        self.candidates = kept
        return True

    def _kept(self, candidate: Candidate) -> Candidate | None:
        """The candidate with its newest figures, where it still agrees."""
        now = self.seen[-1]
        span = candidate.at(now.images, self.kind)
        kind = self.kind
        if span is None or span.high - span.low > kind.change:
            return None  # the meter stood still meanwhile, so this is something else
        step = candidate.step(kind)
        slack = kind.relative * abs(now.figure) + kind.fixed + now.digit + 0.5 * step
        if not span.low - slack <= now.figure <= span.high + slack:
            return None
        for before, then in zip(self.seen, candidate.spans, strict=False):
            moved = now.figure - before.figure
            room = kind.relative * abs(moved) + 0.5 * (now.digit + before.digit) + step
            room += 0.1 * kind.fixed
            if not span.low - then.high - room <= moved <= span.high - then.low + room:
                return None
        return Candidate(
            candidate.view, candidate.formula, candidate.sign, (*candidate.spans, span)
        )

    def answers(self) -> list[Candidate]:
        """What is left, each answer once, the best first."""
        if not self.seen:
            return []
        last = self.seen[-1].images[-1]
        groups = merged(self.candidates, last, self.kind)
        return sorted((self._best(group) for group in groups), key=self.badness)

    def _best(self, group: Sequence[Candidate]) -> Candidate:
        return min(group, key=self.badness)

    def badness(self, candidate: Candidate) -> tuple[float, str, int]:
        """Residual after one gain, in digits of the meter, and what is odd about it."""
        middles = [0.5 * (span.low + span.high) for span in candidate.spans]
        meter = [seen.figure for seen in self.seen]
        power = sum(middle * middle for middle in middles)
        gain = sum(m * f for m, f in zip(middles, meter, strict=True)) / power if power else 1.0
        squares = sum((f - gain * m) ** 2 for m, f in zip(middles, meter, strict=True))
        digit = max(seen.digit for seen in self.seen)
        residual = sqrt(squares / len(meter)) / digit
        return residual + candidate.oddness(self.kind), candidate.view.table, candidate.view.address


def _near(seen: Seen, kind: Kind) -> Iterable[Candidate]:
    """Every view with every meaning that could stand where the meter does, or not far from it."""
    image = seen.images[0]
    reach = kind.relative * abs(seen.figure) + kind.fixed + seen.digit + kind.change + kind.coarsest
    for view in views(image):
        raw = view.raw(image)
        if raw is None:
            continue
        floats = view.kind == "float32"
        for formula in kind.float_formulas if floats else kind.formulas:
            figure = formula.figure(raw, kind.unit)
            for sign in kind.signs:
                if abs(sign * figure - seen.figure) <= reach:
                    candidate = Candidate(view, formula, sign)
                    if candidate.step(kind) <= kind.coarsest:
                        yield candidate


def merged(candidates: Sequence[Candidate], image: Image, kind: Kind) -> list[list[Candidate]]:
    """Groups of candidates that are the same answer.

    They share the register that counts, whichever table it was read through, and never showed
    anything different: a 32-bit number whose high word is empty is its low word; floats that share
    their high word differ by less than a share of it.
    """
    groups: dict[int, list[list[Candidate]]] = {}
    for candidate in sorted(candidates, key=lambda each: TYPES[each.view.kind].registers):
        place = candidate.view.significant(image)
        for group in groups.setdefault(place, []):
            if _alike(group[0], candidate, kind):
                group.append(candidate)
                break
        else:
            groups[place].append([candidate])
    return [group for at in groups.values() for group in at]


def _alike(one: Candidate, other: Candidate, kind: Kind) -> bool:
    """Do they only say the same in other words?

    With one factor between them (thousandths or 1024ths of the same number: closer than any
    meter), every figure of one gives that of the other, within half a step.
    """
    floats = "float32" in (one.view.kind, other.view.kind)
    room = 1e-9 + (0.0 if floats else 0.5 * max(one.step(kind), other.step(kind)))
    ratio = 1.0
    if not floats:
        power = sum(b.high * b.high for b in other.spans)
        ratio = sum(a.high * b.high for a, b in zip(one.spans, other.spans, strict=True))
        ratio = ratio / power if power else 1.0
    for a, b in zip(one.spans, other.spans, strict=True):
        near = room + (_FLOAT_SHARE if floats else 1e-6) * abs(a.high)
        if abs(a.low - ratio * b.low) > near or abs(a.high - ratio * b.high) > near:
            return False
    return True
