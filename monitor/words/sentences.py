"""What the snapshot says, in sentences: shared by the screen, the plain lines and the one-shot.

A sentence never hides that something is unknown: it says so, and why.
"""

from __future__ import annotations

from typing import Final

from monitor.chemistries import CHEMISTRIES
from monitor.engine.as_of import missing
from monitor.engine.as_read import as_read
from monitor.engine.snapshot import (
    BankView,
    LinkView,
    Measured,
    Priority,
    Snapshot,
    Stage,
    StageView,
)
from monitor.words.alarm_states import over, standing
from monitor.words.figures import (
    MISSING,
    Answer,
    Clock,
    GiveOrTake,
    answer,
    give_or_take,
    percent,
    probability,
    signed_amps,
    span,
    temperature,
    volts,
)

#: What each stage is called.
STAGE_WORD: Final[dict[Stage, str]] = {
    Stage.REST: "rest",
    Stage.DISCHARGE: "discharge",
    Stage.BULK: "bulk",
    Stage.ABSORPTION: "absorption",
    Stage.FLOAT: "float",
    Stage.EQUALIZE: "equalize",
    Stage.FIXED: "fixed",
}

#: What each stage means to somebody who never read a charger's manual.
STAGE_MEANS: Final[dict[Stage, str]] = {
    Stage.REST: "nothing charges and hardly anything draws",
    Stage.DISCHARGE: "the loads draw from the bank",
    Stage.BULK: "the source gives all it can",
    Stage.ABSORPTION: "voltage held high while the current falls",
    Stage.FLOAT: "charged, and held there gently",
    Stage.EQUALIZE: "held extra high on purpose, for a time",
    Stage.FIXED: "one voltage for ever; this source has no stages",
}

#: Mark and word of each priority; the mark alone still says which, without colour.
PRIORITY_MARK: Final[dict[Priority, str]] = {
    Priority.NONE: "",
    Priority.LOW: "!",
    Priority.MEDIUM: "!!",
    Priority.HIGH: "!!!",
}
PRIORITY_WORD: Final[dict[Priority, str]] = {
    Priority.NONE: "",
    Priority.LOW: "LOW",
    Priority.MEDIUM: "MEDIUM",
    Priority.HIGH: "HIGH",
}

#: What a link says that has just come up, which is no news.
OPENED: Final = "opened"

NO_ALARM: Final = "no alarm"
#: Under the large figures.
CHARGED: Final = "charged"
UNTIL_FULL: Final = "until full"
FULL: Final = "full"
CURRENT: Final = "current"
NO_READING: Final = "no reading"
STAGE_NOT_KNOWN: Final = "Stage not known"
WAITING: Final = "waiting for the first reading"


def turned(gone: str) -> str:
    """That the service is gone, with the reason, or (without one) back."""
    if not gone:
        return "the service is back"
    return f"the service is gone ({gone}): nothing is known from now on; calling again"


def as_of(moment: str) -> str:
    """Before what was known while somebody still told."""
    return f"as of {moment}: " if moment else "when last heard: "


def sentence(words: str) -> str:
    """First letter large, a full stop at the end."""
    words = words.strip()
    if not words:
        return ""
    return words[0].upper() + words[1:] + ("" if words[-1] in ".!?" else ".")


def unstopped(words: str) -> str:
    """Without a full stop, to stand inside a sentence."""
    return words.strip().rstrip(".")


def bank_name(bank: BankView) -> str:
    chemistry = CHEMISTRIES.get(bank.chemistry)
    kind = chemistry.words if chemistry else bank.chemistry
    return f"{bank.id}, {bank.nominal_volts} V {bank.amp_hours:.0f} Ah {kind}"


def bank_id(bank: BankView) -> str:
    return bank.id


def certainty(view: StageView) -> str:
    """How sure the stage is; under three in four the runner-up is named too."""
    sure = f"{probability(view.probability)} likely"
    if view.probability >= 0.75:
        return sure
    others = [
        (chance, stage)
        for stage, chance in zip(Stage, view.probabilities, strict=False)
        if stage is not view.stage
    ]
    if not others:
        return sure
    chance, other = max(others)
    return f"{sure}, or {STAGE_WORD[other]} {probability(chance)}"


def brief_certainty(view: StageView) -> str:
    """The same in figures, where there is no room for words."""
    sure = probability(view.probability)
    others = list(zip(view.probabilities, Stage, strict=False))
    chance, other = max((each for each in others if each[1] is not view.stage), default=(0.0, None))
    if view.probability >= 0.75 or other is None:
        return sure
    return f"{sure}, {STAGE_WORD[other]} {probability(chance)}"


def since(seconds: float, now: float, clock: Clock) -> str:
    """`since 13:20 (1 h 12 min)`, or only the span while the wall clock is unknown."""
    moment = clock.at(seconds, now)
    lasted = span(now - seconds)
    return f"since {moment} ({lasted})" if moment else f"for {lasted}"


def stage_words(bank: BankView) -> str:
    """The stage with how sure it is; said as past while nothing is read."""
    if unheard(bank):
        return "not known yet"
    if past(bank):
        return f"not known now; was {STAGE_WORD[bank.stage.stage]}"
    return f"{STAGE_WORD[bank.stage.stage]}, {certainty(bank.stage)}"


def stage_named(bank: BankView) -> str:
    return f"stage {stage_words(bank)}"


def brief_stage(bank: BankView) -> str:
    """The stage alone where there is no room to say how sure it is; said as past in one word."""
    word = STAGE_WORD[bank.stage.stage]
    if unheard(bank):
        return MISSING
    return f"was {word}" if past(bank) else f"{word}, {brief_certainty(bank.stage)}"


def brief_charged(bank: BankView) -> str:
    """`87 % ±3`, or `was 87 % ±3`."""
    soc = give_or_take(bank.charge.soc)
    if soc is None or unheard(bank):
        return MISSING
    return f"{was(soc) if past(bank) else soc.figure} {soc.brief_doubt}"


def brief_wait(bank: BankView, now: float, clock: Clock) -> str:
    """`2 h 40 min, 15:10`, `11 h to 50 %, 23:30`, or `no time to full`."""
    reply, label, name = wanted(bank)
    if past(bank) or reply.seconds is None:
        return f"no {name}"
    floor = "" if label == UNTIL_FULL or bank.lowest_soc is None else percent(bank.lowest_soc)
    text = f"{reply.text} to {floor}" if floor else reply.text
    return ", ".join(filter(None, (text, ends(reply, now, clock))))


def brief_electric(bank: BankView, fahrenheit: bool = False) -> str:
    """`+18 A, 14.38 V, 18 °C`; the sign says which way it flows."""
    if blind(bank):
        return NO_READING
    flow, warmth = signed_amps(bank.amps.figure), temperature(bank.celsius.figure, fahrenheit)
    return f"{flow}, {volts(bank.volts.figure)}, {warmth}"


def was(soc: GiveOrTake) -> str:
    """How full it was, while nothing is read."""
    return f"was {soc.figure}"


def why(view: StageView) -> str:
    """The evidence as one sentence."""
    words = "; ".join(fact.words for fact in view.evidence if fact.words)
    return sentence(words) if words else "No evidence yet."


def why_now(bank: BankView) -> str:
    """The same with the volts and amps of now, as they stand beside it."""
    return why(as_read(bank))


def blind(bank: BankView) -> bool:
    """Nothing is read of the bank now: what is known of it is from before."""
    return bank.volts.figure is None and bank.amps.figure is None


def past(bank: BankView) -> bool:
    """Stage, charge and what follows from them are from before: volts or amps are not read now."""
    return missing(bank.volts, bank.amps) is not None


def unheard(bank: BankView) -> bool:
    """What is missing was never read: there is no "before" to speak of."""
    gone = missing(bank.volts, bank.amps)
    return gone is not None and gone.age_seconds is None


def past_words(bank: BankView) -> str:
    """Why stage and charge are not known now; the reason tells since when."""
    if blind(bank):
        return f"{NO_READING}: {bank.volts.reason or bank.amps.reason or 'nothing measures it'}"
    if bank.amps.figure is None:
        return absent("current", bank.amps)
    return absent("voltage", bank.volts)


def direction(bank: BankView) -> str:
    figure = bank.amps.figure
    if figure is None:
        return "no current reading"
    if abs(figure) < 0.05:
        return "nothing flows"
    return "into the bank" if figure > 0 else "out of the bank"


def absent(what: str, measured: Measured) -> str:
    """Why a figure is missing; the reason tells the age of the last one."""
    return f"no {what}: {measured.reason or 'not measured'}"


def wanted(bank: BankView) -> tuple[Answer, str, str]:
    """The wait that matters now: (answer, label, what it is called when there is none).

    Time left while the bank discharges, time to full otherwise.
    """
    if bank.stage.stage is Stage.DISCHARGE and bank.stage.probability > 0:
        floor = "" if bank.lowest_soc is None else f" above {percent(bank.lowest_soc)}"
        return answer(bank.forecast.left), f"left{floor}", "time left"
    return answer(bank.forecast.to_full), UNTIL_FULL, "time to full"


def ends(reply: Answer, now: float, clock: Clock) -> str:
    """The clock time a wait ends, rounded like the wait, or an empty text."""
    if reply.seconds is None:
        return ""
    step = 300.0 if reply.seconds > 1800 else 60.0
    moment = step * round((now + reply.seconds) / step)
    if clock.offset is not None:
        moment = step * round((now + reply.seconds + clock.offset) / step) - clock.offset
    return clock.at(moment, now) or ""


def about(reply: Answer, now: float, clock: Clock) -> str:
    moment = ends(reply, now, clock)
    return f"about {moment}" if moment else ""


def charged(bank: BankView) -> str:
    """`87 % charged, give or take 3`; said as past while nothing is read."""
    soc = give_or_take(bank.charge.soc)
    if soc is not None and unheard(bank):
        return "charge not known yet"
    if soc is not None and past(bank):
        return f"charge not known now; was {soc.figure}, {soc.doubt}"
    if soc is None:
        return f"charge not known: {bank.charge.soc.reason or 'no reading yet'}"
    return f"{soc.figure} charged, {soc.doubt}"


def how_full(bank: BankView) -> str:
    """`87 %, give or take 3`, under a heading that says what of; as past while it is not known."""
    soc = give_or_take(bank.charge.soc)
    if soc is None:
        return bank.charge.soc.reason or "not known yet"
    if unheard(bank):
        return "not known yet"
    return f"not known now; {was(soc)}, {soc.doubt}" if past(bank) else f"{soc.figure}, {soc.doubt}"


def waiting_time(bank: BankView, now: float, clock: Clock) -> str:
    """`full in 2 h 40 min, about 17:10` or `no time to full: the reason`."""
    reply, label, name = wanted(bank)
    if past(bank):
        return f"no {name}: {NO_READING if blind(bank) else past_words(bank)}"
    if reply.seconds is None:
        return f"no {name}: {reply.reason or 'not known yet'}"
    moment = ends(reply, now, clock)
    if label == UNTIL_FULL:
        return f"full in {reply.text}" + (f", about {moment}" if moment else "")
    return f"{reply.text} {label}" + (f", until {moment}" if moment else "")


def timed_label(label: str, moment: str) -> str:
    """`until full, at 17:10` or `left above 50 %, until 02:10`."""
    if not moment:
        return label
    return f"{label}, {'at' if label == 'until full' else 'until'} {moment}"


def timed_labels(label: str, moment: str) -> tuple[str, ...]:
    """The same in ever fewer words, for ever less room."""
    if not moment:
        return (label,)
    shortest = f"{FULL} {moment}" if label == UNTIL_FULL else label
    return timed_label(label, moment), f"{label}, {moment}", shortest, label


def electric(bank: BankView, fahrenheit: bool = False) -> str:
    """`+18 A into the bank, 14.38 V, 18 °C`."""
    if blind(bank):
        return past_words(bank)
    flow = signed_amps(bank.amps.figure)
    if bank.amps.figure is not None:
        flow += f" {direction(bank)}"
    return f"{flow}, {volts(bank.volts.figure)}, {temperature(bank.celsius.figure, fahrenheit)}"


def link_words(link: LinkView, now: float, clock: Clock) -> str:
    """`shunt: no answer, since 14:02 (3 min)`."""
    return f"{link.device}: {link.reason or 'silent'}, {since(link.since_seconds, now, clock)}"


def link_forms(link: LinkView, now: float, clock: Clock) -> tuple[str, ...]:
    """The same in ever fewer words; since when, or for how long, is the last to go."""
    lasted = span(now - link.since_seconds)
    return (
        link_words(link, now, clock),
        f"{link.device}: {link.reason or 'silent'}, {lasted}",
        f"{link.device}: silent, {since(link.since_seconds, now, clock)}",
        f"{link.device}: silent for {lasted}",
    )


def do_first(snapshot: Snapshot) -> str:
    """What to do about the worst alarm before anything else; an empty text where nothing stands."""
    for alarm in standing(snapshot.alarms)[:1]:
        if alarm.first and not over(alarm):
            return f"first: {unstopped(alarm.first)}"
    return ""


def notes(snapshot: Snapshot, bank: BankView, clock: Clock) -> list[str]:
    """What is worth a line under the alarms: silent devices, warnings."""
    lines = [link_words(link, snapshot.seconds, clock) for link in snapshot.links if not link.up]
    lines += [
        f"{link.device}: {link.reason}"
        for link in snapshot.links
        if link.up and link.reason not in ("", OPENED) and link.age_seconds is not None
    ]
    lines += [f"note: {fact.words}" for fact in bank.warnings if fact.words]
    return lines
