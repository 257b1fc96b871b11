"""The capture: everything that entered, in order, in one file that survives a power cut.

A capture is a text file of sealed lines (`replay.sealed_lines`): the header first
(`replay.header`), then one row for every input and raw frame (`replay.rows`). Gzip copies read the
same. This is the door; each room behind it does one thing:

    CaptureWriter(path, header, commit_seconds=10.0)
                                append(input), frame(frame), commit(), close() -> Closing
    open_capture(path)          a Capture: header, inputs(), frames(), start, end, problems
    verify(path)                a Verification: what it holds and what is amiss, in words
    repair(path, out)           every sound row in a new file
    compress(path, out)         a finished capture as gzip, the same bytes every time

`CaptureError` is what a person may see: one line.
"""

from replay.header import Header
from replay.reader import Capture, Problems, open_capture
from replay.sealed_lines import CaptureError
from replay.verify import Gap, Repair, Verification, compress, repair, verify
from replay.writer import COMMIT_SECONDS, CaptureWriter, Closing

__all__ = [
    "COMMIT_SECONDS",
    "Capture",
    "CaptureError",
    "CaptureWriter",
    "Closing",
    "Gap",
    "Header",
    "Problems",
    "Repair",
    "Verification",
    "compress",
    "open_capture",
    "repair",
    "verify",
]
