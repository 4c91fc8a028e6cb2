"""Least squares of the traces, and what they draw, against certified nonlinear fits.

Sources: NIST Statistical Reference Datasets, nonlinear regression, data and certified values as carried in a
public package. Indometh: data set of the language R, subject 1, data and printed result from memory.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from achieved import Check, table
from scipy.special import stdtrit

from evenpour.tune.annealing import annealed
from evenpour.tune.least_squares import Fit, least_squares

TOPIC = "Fits to traces"
NIST = "NIST StRD, nonlinear regression: Misra1a, Chwirut2, MGH17, Gauss1, Rat42"
PARAMETERS = Check(
    topic=TOPIC,
    source=NIST,
    what="parameters by least squares",
    tolerance=1e-6,
    because="the sets' own measure of a good result is six digits or more",
    relative=True,
)
DEVIATIONS = Check(
    topic=TOPIC,
    source=NIST,
    what="standard deviations of the parameters",
    tolerance=1e-6,
    because="as for the parameters",
    relative=True,
)
RESIDUALS = Check(
    topic=TOPIC,
    source=NIST,
    what="residual standard deviation",
    tolerance=1e-9,
    because="certified to eleven digits; it hardly moves with the parameters",
    relative=True,
)
TWO_DECAYS = Check(
    topic=TOPIC,
    source="R, data set Indometh, subject 1 (from memory)",
    what="two decays with logarithmic rates, and the residual standard deviation",
    tolerance=1e-4,
    because="printed to four decimals, the third amplitude rounded twice",
)

TOLD = Check(
    topic=TOPIC,
    source="NIST StRD, nonlinear regression: Misra1a, Chwirut2",
    what="parameters as a trace tells them (drawn, not fitted), over their certified standard deviations",
    tolerance=0.15,
    because="1,600 draws that hang together: 0.05 to 0.1 of a standard deviation",
)
WIDTHS = Check(
    topic=TOPIC,
    source="NIST StRD, nonlinear regression: Misra1a, Chwirut2",
    what="95 % of a parameter as a trace tells it, over Student's interval of the certified deviation",
    tolerance=0.15,
    because="the tails of 1,600 draws; and the curves are not straight",
    relative=True,
)

Curve = Callable[[np.ndarray, np.ndarray], np.ndarray]
CURVES: dict[str, Curve] = {
    "Misra1a": lambda b, x: b[0] * (1.0 - np.exp(-b[1] * x)),
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-b[3] * x) + b[2] * np.exp(-b[4] * x),
    "Gauss1": lambda b, x: (
        b[0] * np.exp(-b[1] * x)
        + b[2] * np.exp(-(((x - b[3]) / b[4]) ** 2))
        + b[5] * np.exp(-(((x - b[6]) / b[7]) ** 2))
    ),
    "Chwirut2": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "Rat42": lambda b, x: b[0] / (1.0 + np.exp(b[1] - b[2] * x)),
}


def fitted(curve: Curve, x: np.ndarray, y: np.ndarray, start: list[float]) -> Fit:
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):  # a step too far, which is taken back
        return least_squares(lambda rows: curve(rows.T[:, :, None], x) - y, start)


@pytest.mark.parametrize("start", ["start1", "start2"])
@pytest.mark.parametrize("name", CURVES)
def test_the_certified_fit_comes_out_from_both_starts(name: str, start: str) -> None:
    certified = [row for row in table("nls_certified.csv") if row["dataset"] == name]
    data = table(f"nls_{name}.csv")
    x, y = (np.array([float(row[column]) for row in data]) for column in ("x", "y"))
    fit = fitted(CURVES[name], x, y, [float(row[start]) for row in certified])
    assert fit.dof == int(certified[0]["dof"])
    PARAMETERS.holds(fit.values, [float(row["certified"]) for row in certified])
    DEVIATIONS.holds(fit.u, [float(row["certified_sd"]) for row in certified])
    RESIDUALS.holds(fit.residual_sd, float(certified[0]["resid_sd_certified"]))


@pytest.mark.parametrize("name", ["Misra1a", "Chwirut2"])
def test_what_is_drawn_of_a_curve_has_the_certified_middle_and_width(name: str) -> None:
    """With scatter that does not hang together, even priors on the parameters, and one over its size."""
    certified = [row for row in table("nls_certified.csv") if row["dataset"] == name]
    x, y = (np.array([float(row[column]) for row in table(f"nls_{name}.csv")]) for column in ("x", "y"))
    best, sd = (np.array([float(row[one]) for row in certified]) for one in ("certified", "certified_sd"))
    fit = fitted(CURVES[name], x, y, [float(row["start2"]) for row in certified])

    def log_density(rows: np.ndarray) -> np.ndarray:
        """Of standard deviations from the certified values."""
        rest = CURVES[name]((best + rows * sd).T[:, :, None], x) - y
        return np.where(
            np.all(np.abs(rows) < 12.0, axis=1), -0.5 * x.size * np.log(np.sum(rest**2, axis=1)), -np.inf
        )

    rough = 1.5 * fit.covariance / np.outer(sd, sd)
    draws, _ = annealed(log_density, np.zeros(best.size), rough, np.random.default_rng(7))
    low, middle, high = np.quantile(draws, [0.025, 0.5, 0.975], axis=0)
    TOLD.holds(middle, np.zeros(best.size))
    student = float(stdtrit(x.size - best.size, 0.975))
    WIDTHS.holds(0.5 * (high - low) / student, np.ones(best.size))


def test_two_decays_come_out_as_printed() -> None:
    data = table("biexp_indometh1.csv")
    t, c = (np.array([float(row[column]) for row in data]) for column in ("t", "c"))

    def curve(b: np.ndarray, x: np.ndarray) -> np.ndarray:
        return b[0] * np.exp(-np.exp(b[1]) * x) + b[2] * np.exp(-np.exp(b[3]) * x)

    fit = fitted(curve, t, c, [2.0, 1.0, 0.5, -1.0])
    TWO_DECAYS.holds([*fit.values, fit.residual_sd], [2.0293, 0.5794, 0.1915, -1.7878, 0.0410])
