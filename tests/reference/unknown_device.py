"""A random device of which nobody has the manual, with the truth beside it.

200 registers: the bank's voltage and current in encodings of its own, among what makes finding them
hard: the controller's terminals, four cells, the lowest, highest and averaged voltage, panels,
temperatures, power, charge, counters, 28 set-points, random words. Encodes by `struct` alone and
shares nothing with the finder. The experiment is that of this project's notes on protocols.
"""

from __future__ import annotations

import math
import random
import struct
from dataclasses import dataclass, field

REGISTERS = 200
#: Largest errors of gain: of the device's voltage and current, and of the meter.
DEVICE_VOLTS, DEVICE_AMPS, METER = 0.003, 0.01, 0.005
SET_POINTS = 28


@dataclass
class Coding:
    """How a device writes one figure: `struct` code, raw units per unit, first register."""

    code: str
    per_unit: float
    little: bool
    address: int = -1

    @property
    def words(self) -> int:
        return struct.calcsize(">" + self.code) // 2

    def write(self, image: list[int], figure: float) -> None:
        if self.code == "f":
            data = struct.pack(">f", figure * self.per_unit)
        else:
            raw = round(figure * self.per_unit)
            bits = 16 * self.words
            low = -(1 << bits - 1) if self.code.islower() else 0
            high = (1 << (bits - 1 if self.code.islower() else bits)) - 1
            data = struct.pack(">" + self.code, min(max(raw, low), high))
        words = struct.unpack(f">{self.words}H", data)
        image[self.address : self.address + self.words] = words[::-1] if self.little else words


@dataclass
class Unknown:
    """One random device. `volts` and `amps` are the truth at the posts; `step` lets time pass."""

    seed: int
    volts: float = 12.7
    amps: float = 0.0
    celsius: float = 22.0
    charger: bool = False
    load: bool = False
    codings: dict[str, Coding] = field(default_factory=dict)
    constants: dict[str, float] = field(default_factory=dict)
    noise: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.random = rng = random.Random(self.seed)
        self.little = rng.random() < 0.5
        self.turned = rng.random() < 0.5
        self.volt_gain = 1.0 + rng.uniform(-DEVICE_VOLTS, DEVICE_VOLTS)
        self.amp_gain = 1.0 + rng.uniform(-DEVICE_AMPS, DEVICE_AMPS)
        self.meter_volts = 1.0 + rng.uniform(-METER, METER)
        self.meter_amps = 1.0 + rng.uniform(-METER, METER)
        self.charge_amps = rng.uniform(15.0, 60.0)
        self.load_amps = rng.uniform(10.0, 80.0)
        self.idle_amps = rng.uniform(0.5, 4.0)
        self.ohms = rng.uniform(0.012, 0.03)
        self.lead_ohms = rng.uniform(0.003, 0.012)
        self.open_volts = rng.uniform(12.3, 12.9)
        self.seconds = 0.0
        self.settled = self.open_volts
        self.lowest = self.highest = self.average = self.volts = self.open_volts
        self.amp_hours = 0.0
        self._code()

    def _code(self) -> None:
        """An encoding and a place for everything, at random."""
        rng = self.random
        # One device writes all its voltages of the bank's size alike, as devices do.
        volt_codings = [
            rng.choice([("H", 10), ("H", 100), ("h", 100), ("H", 1000), ("I", 1000), ("f", 1)])
        ]
        amp_codings = [("h", 10), ("h", 100), ("i", 100), ("i", 1000), ("f", 1)]
        names = {"volts": volt_codings, "amps": amp_codings, "terminal": volt_codings}
        names |= {f"cell {n}": [("H", 100), ("H", 1000), ("f", 1)] for n in range(4)}
        names |= dict.fromkeys(("lowest", "highest", "average", "panel"), volt_codings)
        names |= {name: [("h", 1), ("h", 10)] for name in ("celsius", "inside", "ambient")}
        names |= {"watts": [("h", 1), ("i", 10)], "soc": [("H", 1), ("H", 10)]}
        names |= {"amp hours": [("I", 10)], "seconds": [("I", 1)], "polls": [("H", 1)]}
        for number in range(SET_POINTS):
            names[f"set-point {number}"] = [("H", 10), ("H", 100), ("H", 1000)]
            self.constants[f"set-point {number}"] = rng.choice(
                [rng.uniform(10.5, 15.8), rng.uniform(12.0, 14.8), rng.uniform(0.5, 60.0)]
            )
        free = set(range(REGISTERS))
        for name, choices in names.items():
            code, per_unit = rng.choice(choices)
            coding = Coding(code, float(per_unit), self.little)
            places = [at for at in free if all(at + k in free for k in range(coding.words))]
            coding.address = rng.choice(sorted(places))
            free -= set(range(coding.address, coding.address + coding.words))
            self.codings[name] = coding
        self.noise = sorted(free)
        self.kept_noise = {at: rng.randrange(65536) for at in self.noise}

    def step(self, seconds: float) -> None:
        """Let time pass: voltage settles within a minute or so, and drifts while charging."""
        parts = max(1, math.ceil(seconds / 0.5))
        for _ in range(parts):
            self._part(seconds / parts)

    def _part(self, seconds: float) -> None:
        self.seconds += seconds
        self.amps = (self.charge_amps if self.charger else 0.0) - self.idle_amps
        self.amps -= self.load_amps if self.load else 0.0
        self.amps *= 1.0 + 0.02 * math.sin(self.seconds / 7.0)
        self.open_volts += (0.0006 if self.charger else -0.0001) * seconds
        aim = self.open_volts + self.amps * self.ohms
        self.settled += (aim - self.settled) * (1.0 - math.exp(-seconds / 15.0))
        self.volts = self.settled + 0.004 * math.sin(self.seconds / 3.0)
        self.lowest, self.highest = min(self.lowest, self.volts), max(self.highest, self.volts)
        self.average += (self.volts - self.average) * (1.0 - math.exp(-seconds / 60.0))
        self.amp_hours += abs(self.amps) * seconds / 3600.0
        self.celsius += 0.001 * seconds

    def image(self) -> dict[tuple[str, int], int]:
        rng = self.random
        words = [0] * REGISTERS
        for at in self.noise:
            # some words never change, some always do
            words[at] = self.kept_noise[at] if at % 3 else rng.randrange(65536)
        lead = self.charge_amps * self.lead_ohms if self.charger else 0.0
        figures = {
            "volts": self.volts * self.volt_gain,
            "amps": self.amps * self.amp_gain * (-1.0 if self.turned else 1.0),
            "terminal": (self.volts + lead) * (1.0 + 0.5 * (self.volt_gain - 1.0)),
            "lowest": self.lowest * self.volt_gain,
            "highest": self.highest * self.volt_gain,
            "average": self.average * self.volt_gain,
            "panel": 18.0 + 6.0 * math.sin(self.seconds / 50.0),
            "celsius": self.celsius,
            "inside": self.celsius + 9.0,
            "ambient": self.celsius - 3.0,
            "watts": self.volts * self.amps,
            "soc": 70.0,
            "amp hours": self.amp_hours,
            "seconds": self.seconds,
            "polls": self.seconds * 2.0,
            **{f"cell {n}": self.volts / 4.0 + 0.003 * n for n in range(4)},
            **self.constants,
        }
        for name, coding in self.codings.items():
            coding.write(words, figures[name])
        return {("holding", at): word for at, word in enumerate(words)}

    def meter(self, volts: bool) -> float:
        """What a hand-held meter shows: two decimals of volts, one of amps."""
        if volts:
            return round(self.volts * self.meter_volts, 2)
        return round(self.amps * self.meter_amps, 1)
