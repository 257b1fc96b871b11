"""A device that fails on purpose, on three kinds of wire, and what must then be seen.

`bench` is the device with its reader under supervision, `faults` the table of what goes wrong,
`endure` one run of one fault: healthy, failing, healed. `make score-links` prints the table.
"""
