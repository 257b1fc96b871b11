"""Any bytes into every parser: no exception but the ones made for people, memory flat, no blow-up.

`parsers` is the table, `feeding` makes bytes of samples, `run` feeds ten million to each
(`make fuzz`), `guided` lets a coverage-guided fuzzer look for more (`make fuzz-atheris`).
"""
