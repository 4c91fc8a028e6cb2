"""Diagnosis on published worked examples: posterior, next test, candidates of a circuit, order of repairs.

The networks are put to our own engine: a state of the network is a hypothesis, a finding is a choice whose
margin gives the network's probability.
"""

from __future__ import annotations

import itertools
import math
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from achieved import Check, table

sys.path.insert(0, str(Path(__file__).parents[1]))

from evenpour.causes.choice_line import ChoiceLine, lines_of
from evenpour.causes.evidence import by_laplace
from evenpour.causes.information import entropy, of_outcomes
from evenpour.causes.laplace import begin, settle
from evenpour.causes.normal import log_sum, normal_at
from evenpour.causes.problem import NONE, Array, Columns, Faults, Hypothesis, grid_of, ungraded
from evenpour.causes.repairs import in_order
from evenpour.causes.seen import noise_of
from evenpour.causes.severe import Severe
from repairing import expected_cost

NETWORK = "S. Lauritzen, D. Spiegelhalter, J. R. Stat. Soc. B 50 (1988) 157; by enumeration"
CIRCUIT = "J. de Kleer, B. Williams, Artificial Intelligence 32 (1987) 97; computed, consistency only"
TOPIC = "Diagnosis"
SIX = "the table gives six decimals"

ASIA = Check(
    topic=TOPIC,
    source=NETWORK,
    what="posterior of the network of eight findings",
    tolerance=1e-6,
    because=SIX,
)
TEST = Check(
    topic=TOPIC, source=NETWORK, what="information of the next test, bit", tolerance=1e-6, because=SIX
)
NOISY = Check(
    topic=TOPIC, source="computed by Bayes' rule", what="one noisy test", tolerance=1e-6, because=SIX
)
POLYBOX = Check(
    topic=TOPIC, source=CIRCUIT, what="candidates of the circuit of five parts", tolerance=1e-6, because=SIX
)
MEASURED = Check(
    topic=TOPIC, source=CIRCUIT, what="information of measuring a point, bit", tolerance=1e-6, because=SIX
)
REPAIRS = Check(
    topic=TOPIC,
    source="rule of probability over cost (Kadane, Simon 1977); computed by exhaustive search",
    what="expected cost of repair",
    tolerance=1e-9,
    because="the costs are exact to two decimals",
)

SURE = 8.0  # a margin this far from its cut is as good as certain: 1e-15
CERTAIN = ChoiceLine(cuts=(0.0,), misread=0.0)
Chances = Callable[[int], Array]


def posterior(log_prior: Array, margins: Array, found: list[int]) -> Array:
    """Posterior of states by our engine: margins (states, findings), and what was found of each."""
    hypotheses: list[Hypothesis] = [
        ungraded(str(state), str(state), float(value)) for state, value in enumerate(log_prior)
    ]
    grid = grid_of(hypotheses)

    def model(faults: Faults, z: Array) -> Array:
        del z
        return np.asarray(margins[faults.which[:, 0]])

    severe = Severe(model, grid, 1)
    count = margins.shape[1]
    every = np.arange(count)
    columns = Columns(
        column=every,
        check=every,
        reading=every,
        y=np.zeros(count),
        covariance=np.eye(count),
        choices=tuple(ChoiceLine(CERTAIN.cuts, one, misread=0.0) for one in found),
        flat=np.ones(count),
        cylinder=np.full(count, NONE),
    )
    nodes = np.arange(len(grid))
    modes = settle(
        noise_of(columns), severe.predict, nodes, begin(severe.predict, nodes, np.zeros((len(nodes), 3)))
    )
    weight = grid.log_prior + by_laplace(grid, nodes, modes).log_evidence
    return np.asarray(np.exp(weight - log_sum(weight)))


# The network: every joint state of its causes.
STATES = list(itertools.product((1, 0), repeat=5))  # asia, tub, smoke, lung, bronc


def _either(yes: float, state: int) -> float:
    return yes if state else 1.0 - yes


LOG_PRIOR = np.log(
    [
        _either(0.01, asia)
        * _either(0.05 if asia else 0.01, tub)
        * _either(0.5, smoke)
        * _either(0.1 if smoke else 0.01, lung)
        * _either(0.6 if smoke else 0.3, bronc)
        for asia, tub, smoke, lung, bronc in STATES
    ]
)
DYSPNOEA = {(1, 1): 0.9, (1, 0): 0.8, (0, 1): 0.7, (0, 0): 0.1}  # bronc, either
FINDINGS = {
    "dysp": [DYSPNOEA[(bronc, tub | lung)] for _, tub, _, lung, bronc in STATES],
    "xray": [0.98 if tub | lung else 0.05 for _, tub, _, lung, _ in STATES],
    "asia": [float(asia) for asia, *_ in STATES],
    "smoke": [float(smoke) for _, _, smoke, *_ in STATES],
}
ASKED = {
    "tub": np.array([tub for _, tub, *_ in STATES]),
    "lung": np.array([lung for *_, lung, _ in STATES]),
    "bronc": np.array([bronc for *_, bronc in STATES]),
    "either": np.array([tub | lung for _, tub, _, lung, _ in STATES]),
    "smoke": np.array([smoke for _, _, smoke, *_ in STATES]),
}


def margin(name: str) -> Array:
    chance = np.array(FINDINGS[name])
    inner = np.clip(chance, 1e-12, 1.0 - 1e-12)
    return np.where(chance == inner, normal_at(inner), SURE * np.sign(chance - 0.5))


def given(evidence: str) -> Array:
    """Posterior of the network's states, given evidence as the table writes it."""
    if evidence == "(none)":
        return np.exp(LOG_PRIOR)
    pairs = [word.split("=") for word in evidence.split()]
    margins = np.column_stack([margin(name) for name, _ in pairs])
    return posterior(LOG_PRIOR, margins, [int(value == "yes") for _, value in pairs])


@pytest.mark.parametrize("row", table("bayes_asia.csv"), ids=lambda row: row["evidence"])
def test_a_network_of_eight_findings_has_its_posterior(row: dict[str, str]) -> None:
    p = given(row["evidence"])
    for name, states in ASKED.items():
        ASIA.holds(p @ states, float(row[f"P_{name}"]))
    for name in ("xray", "dysp"):
        told = dict(word.split("=") for word in row["evidence"].split() if "=" in word)
        ours = float(told[name] == "yes") if name in told else p @ np.array(FINDINGS[name])
        ASIA.holds(ours, float(row[f"P_{name}"]))


@pytest.mark.parametrize(("test", "published"), [("xray", 0.301746), ("smoke", 0.034277), ("asia", 0.000001)])
def test_the_next_test_of_the_network_is_worth_its_bits(test: str, published: float) -> None:
    p = given("dysp=yes")
    lung = ASKED["lung"]
    TEST.holds(entropy(np.array([p @ lung, 1.0 - p @ lung])), 0.477682)
    chance = lines_of([CERTAIN]).probabilities(margin(test)[:, None])[:, 0]
    TEST.holds(of_outcomes(p, lung, chance), published)


def test_a_noisy_test_tells_a_quarter_of_a_bit() -> None:
    weight, group = np.array([0.2, 0.8]), np.array([1, 0])
    chance = np.array([[0.1, 0.9], [0.8, 0.2]])
    margins = normal_at(chance[:, 1])[:, None]
    NOISY.holds(posterior(np.log(weight), margins, [1])[0], 0.529412)
    NOISY.holds(posterior(np.log(weight), margins, [0])[0], 0.030303)
    NOISY.holds(of_outcomes(weight, group, chance), 0.253477)


# The circuit: X = A C, Y = B D, Z = C E, F = X + Y, G = Y + Z; all three products should be 6.
PARTS = ("M1", "M2", "M3", "A1", "A2")
POINTS = ("X", "Y", "Z")
SETS = list(itertools.product((0, 1), repeat=5))  # 1 where a part is broken


def equations(broken: tuple[int, ...], seen: dict[str, float]) -> tuple[Array, Array]:
    """What the parts that work, and what was measured, say of X, Y and Z."""
    laws = [([1, 0, 0], 6), ([0, 1, 0], 6), ([0, 0, 1], 6), ([1, 1, 0], seen["F"]), ([0, 1, 1], seen["G"])]
    rows = [law for law, bad in zip(laws, broken, strict=True) if not bad]
    rows += [(list(np.eye(3)[POINTS.index(name)]), seen[name]) for name in POINTS if name in seen]
    return np.array([row for row, _ in rows]).reshape(-1, 3), np.array([value for _, value in rows])


def solved(broken: tuple[int, ...], seen: dict[str, float]) -> tuple[bool, dict[str, int]]:
    """Whether these broken parts can be, and which points then have a value."""
    left, right = equations(broken, seen)
    if not len(right):
        return True, {}
    point, *_ = np.linalg.lstsq(left, right, rcond=None)
    consistent = bool(np.allclose(left @ point, right))
    free = np.eye(3) - np.linalg.pinv(left) @ left
    return consistent, {
        name: round(point[at]) for at, name in enumerate(POINTS) if np.allclose(free[at], 0.0)
    }


@pytest.mark.parametrize("row", table("polybox.csv"), ids=lambda row: f"{row['p_each']} {row['observed']}")
def test_the_circuit_of_five_parts_has_its_candidates_and_next_measurement(row: dict[str, str]) -> None:
    seen = {name: float(value) for name, value in (word.split("=") for word in row["observed"].split())}
    p_each = float(row["p_each"])
    log_prior = np.array(
        [sum(math.log(p_each if bad else 1.0 - p_each) for bad in broken) for broken in SETS]
    )
    answers = [solved(broken, seen) for broken in SETS]
    margins = np.array([[SURE if consistent else -SURE] for consistent, _ in answers])
    p = posterior(log_prior, margins, [1])
    for at, part in enumerate(PARTS):
        POLYBOX.holds(p @ np.array([broken[at] for broken in SETS]), float(row[f"P_{part}"]))
    POLYBOX.holds(entropy(p[p > 1e-12]), float(row["entropy_bits"]))
    best = SETS[int(np.argmax(p))]
    named = "+".join(part for part, bad in zip(PARTS, best, strict=True) if bad)
    POLYBOX.holds(p.max(), float(row["top_prob"]))
    assert named == row["top_candidate"] or math.isclose(*np.sort(p)[-2:], abs_tol=1e-6)
    for point in POINTS:
        if row[f"gain_{point}"]:
            values = [known.get(point) for _, known in answers]
            outcomes = list(dict.fromkeys(values))
            chance = np.array([[float(value == outcome) for outcome in outcomes] for value in values])
            MEASURED.holds(of_outcomes(p, np.arange(len(p)), chance), float(row[f"gain_{point}"]))


@pytest.mark.parametrize("row", table("repair_order.csv"), ids=lambda row: row["set"])
def test_repairs_go_by_probability_over_cost(row: dict[str, str]) -> None:
    probability = {name: float(p) for name, p in (one.split(":") for one in row["p"].split(";"))}
    cost = {name: float(c) for name, c in (one.split(":") for one in row["cost"].split(";"))}
    order = in_order(probability, cost)
    worth = [repair.worth for repair in order]
    assert worth == sorted(worth, reverse=True)
    REPAIRS.holds(expected_cost(order), float(row["ECR"]))
    every = [expected_cost(list(some)) for some in itertools.permutations(order)]
    REPAIRS.holds(min(every), float(row["ECR_exhaustive"]))
    by_probability = sorted(order, key=lambda repair: -repair.probability)
    REPAIRS.holds(expected_cost(by_probability), float(row["ECR_by_probability"]))
    cheapest = sorted(order, key=lambda repair: repair.cost)
    REPAIRS.holds(expected_cost(cheapest), float(row["ECR_by_cheapest"]))
