"""Checks of the two temperatures: the tool's sensor on the post, and the charger's own probe."""

from __future__ import annotations

from typing import Final

from monitor.commission.check import Ask, Check, Result, Watch, asking, judged, within
from monitor.commission.checks_entered import each_source
from monitor.commission.checks_measuring import CAUTION_POSTS, GROUP
from monitor.commission.memory import eased, lasted
from monitor.commission.record import Figure, Limit, Verdict
from monitor.commission.setting import Setting

#: A hand warms a post by some degrees in minutes; a battery by itself by less than one (our
#: choice). A sensor that hangs in the air feels none of it.
_WARM_CELSIUS: Final = 1.5
_WARM_SECONDS: Final = 900.0


def _sensor(watch: Watch) -> Result | None:
    celsius, seconds = watch.look.celsius, watch.look.seconds
    missing = lasted(watch.memory, "missing", celsius is None, seconds)
    if celsius is None:
        if missing < 120.0:
            return None
        return Result(Verdict.FAIL, "the tool has no temperature of the bank: no sensor is read")
    shown = eased(watch.memory, "celsius", celsius, seconds, 20.0)
    post = watch.figure("post")
    if post is None:
        return None
    watch.memory.setdefault("before", shown)
    since = seconds - watch.memory.setdefault("since", seconds)
    rise = shown - watch.memory["before"]
    if rise < _WARM_CELSIUS and since < _WARM_SECONDS:
        return None
    doubt = watch.setting.meter_sd("°C", post)
    before = watch.memory["before"]
    figures = (
        Figure("thermometer at the post", post, "°C", doubt),
        Figure("sensor less thermometer", before - post, "°C", doubt),
        Figure("rise when the post was warmed", rise, "°C", 0.3),
    )
    air = rise < _WARM_CELSIUS
    return judged(watch.limits, figures, "the sensor is not on the post but in air" if air else "")


def compensates(setting: Setting, target: str) -> str:
    if (setting.given(target, "compensation") or 0.0) == 0.0:
        return "this charger is not to follow the temperature"
    return ""


def _probe(watch: Watch) -> Result | None:
    shown, true = watch.figure("shown"), watch.figure("thermometer")
    if shown is None and watch.said("shown") is None:
        return None
    if true is None:
        return None
    if shown is None:
        return Result(Verdict.FAIL, "the charger shows no temperature: its probe is not plugged in")
    doubt = watch.setting.meter_sd("°C", true)
    return judged(
        watch.limits,
        (
            Figure("thermometer", true, "°C", doubt),
            Figure("shown less thermometer", shown - true, "°C", doubt),
        ),
    )


CHECKS: Final = (
    Check(
        id="bank-sensor",
        group=GROUP,
        title="The tool's temperature sensor is on the post",
        purpose="Set-points are judged at the bank's temperature, not the air's.",
        caution="Dry hands, no metal; acid on a post burns.",
        hands="Measure the post with a contact thermometer and enter it. Then hold a warm (not "
        "hot) wet cloth or your hand round post and sensor for some minutes.",
        watches="the sensor's figure, and that it rises",
        shows="celsius",
        asks=asking(Ask("post", "Temperature of the post by thermometer", "°C", -40.0, 80.0)),
        limits=within(
            Limit(
                "sensor less thermometer",
                "°C",
                -3.0,
                3.0,
                "our choice: sensors are good to 2 °C, contact probes to 1.5 °C",
            ),
            Limit(
                "rise when the post was warmed",
                "°C",
                _WARM_CELSIUS,
                None,
                "our choice: more than the post moves by itself in a quarter of an hour",
            ),
        ),
        watch=_sensor,
    ),
    Check(
        id="probe",
        group=GROUP,
        title="The charger's own temperature probe",
        purpose="The charger follows its own probe, not the tool's sensor.",
        caution=CAUTION_POSTS,
        hands="Find the probe at the battery. Read the temperature that the charger shows for it "
        "(or work it out from its resistance); enter it, or no where it shows none.",
        watches="the figures entered",
        targets=each_source,
        needless=compensates,
        asks=asking(
            Ask(
                "shown",
                "What the charger shows for its probe; no: nothing",
                "°C",
                -40.0,
                90.0,
                or_no=True,
            ),
            Ask("thermometer", "Temperature there by thermometer", "°C", -40.0, 80.0),
        ),
        limits=within(
            Limit("shown less thermometer", "°C", -4.0, 4.0, "our choice: both may be 2 °C off")
        ),
        watch=_probe,
    ),
)
