"""One engine: its sheet, its model (steady and in time), its faults, and what each check would read on it.

The way through: a `Sheet` and the data's parameters make a `Kind` (kind.py); its blueprint draws `Cars`
(parameters.py), healthy ones whose two screws `set_up` puts right (set_up.py); a `Cause` changes their parameters
(faults.py); a `Readout` shows them in a `Situation` (readout.py, situation.py), state by state, worked out once;
`predict` says what every check would read (checks.py), asked by `query` from a reading's conditions (asking.py).
"""
