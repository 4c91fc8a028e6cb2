"""One engine: its sheet, its model (steady and in time), its faults, and what each check would read on it.

The way through: a `Sheet` and the data's parameters make a `Kind` (kind.py); its blueprint draws `Cars`
(parameters.py), healthy ones whose two screws `set_up` puts right (set_up.py); a `Cause` changes their
parameters (faults.py); a `Readout` shows them in a `Situation` (readout.py, situation.py), state by state,
worked out once; `predict` says what every check would read (checks.py), asked by `query` from a reading's
conditions (asking.py).

Everything is worked out for a block of cars at once. What a solve does not change is put in a `PerCar`
(some.py) first: an `Engine` at a manifold pressure (engine.py), a `Balance` at a system pressure
(balance.py). Rounds then go on with those of the cars that are not in balance yet, so that a car that is
hard to solve costs little, and no car's answer depends on its neighbours.
"""
