"""The line in every report that says what it was made from, the same in all three forms.

    ampwright-report form=1 record-sha256=... capture-sha256=... record=NAME capture=NAME
        next-service=2027-05-01 zone=3600 paper=a4 software=ampwright%200.1.0

(one line; blanks in a value are written as in a URL). It is a comment of a page and a line of a
text; the two digests are printed for people as well.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import quote, unquote

from monitor.mishaps import Refusal

FORM: Final = 1
_BEGINS: Final = "ampwright-report"
_FOUND: Final = re.compile(rb"ampwright-report((?: [a-z0-9-]+=[!-~]*)+) end")


@dataclass(frozen=True, slots=True)
class Seal:
    """`zone` is what the printed times are ahead of UTC, in seconds."""

    record: str
    record_sha256: str
    capture: str = ""
    capture_sha256: str = ""
    next_service: str = ""
    zone: int = 0
    paper: str = "a4"
    software: str = ""

    @property
    def line(self) -> str:
        values = {
            "form": str(FORM),
            "record-sha256": self.record_sha256,
            "capture-sha256": self.capture_sha256,
            "record": self.record,
            "capture": self.capture,
            "next-service": self.next_service,
            "zone": str(self.zone),
            "paper": self.paper,
            "software": self.software,
        }
        # no sign that means something in HTML or in a PDF's text may stand in a value
        words = (
            f"{name}={quote(value, safe='').replace('-', '%2D')}" for name, value in values.items()
        )
        return " ".join((_BEGINS, *words, "end"))


def sha256_of(path: Path) -> str:
    """Of a file's bytes; OSError where it cannot be read."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        for block in iter(lambda: file.read(1 << 20), b""):
            digest.update(block)
    return digest.hexdigest()


def seal_in(data: bytes, name: str) -> Seal | None:
    """The seal of a report, None where there is none; Refusal where it cannot be understood."""
    found = _FOUND.search(data)
    if found is None:
        return None
    values = {}
    for word in found[1].decode("ascii").split():
        key, _, value = word.partition("=")
        values[key] = unquote(value)
    try:
        if int(values["form"]) > FORM:
            raise Refusal(
                f"{name}: this report was made by a newer version of this program; use that one"
            )
        return Seal(
            record=values["record"],
            record_sha256=values["record-sha256"],
            capture=values["capture"],
            capture_sha256=values["capture-sha256"],
            next_service=values["next-service"],
            zone=int(values["zone"]),
            paper=values["paper"],
            software=values["software"],
        )
    except (KeyError, ValueError):
        raise Refusal(
            f"{name}: the line that says what this report was made from is damaged; "
            "name the record instead"
        ) from None
