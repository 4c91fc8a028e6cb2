"""Mixture from exhaust gas with its doubt, and what the gases show besides it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evenpour import data
from evenpour.errors import FieldProblem, Questioned, UnknownName
from evenpour.job.catalogue import catalogue
from evenpour.measure import mixture as module
from evenpour.measure.analysers import analyser_class, hexane_factor
from evenpour.measure.exhaust_signs import KINDS, meter_sign, signs_of
from evenpour.measure.mixture import (
    GasValue,
    afr_of,
    as_read,
    dried,
    mixture_from_gas,
    sound_exhaust,
)
from evenpour.physics.blend import blend
from evenpour.physics.combustion import NITROGEN_PER_OXYGEN, dry_products, oxygen_demand
from evenpour.physics.exhaust_balance import lambda_from_gas

E5 = blend(0.05)
FUEL = (E5.hydrogen_per_carbon, E5.oxygen_per_carbon)
CLASS_1 = analyser_class("I")


def exhaust(lambda_, *, unmixed=0.03, unburnt=0.005, stray=0.0, moisture=0.0, water_gas=3.5):
    """Shares an analyser is given by an engine that burns *lambda_*."""
    made = dry_products(lambda_, *FUEL, water_gas, unmixed)
    air, burnt = lambda_ * oxygen_demand(*FUEL), 1.0 - unburnt
    amounts = {
        "co": burnt * made.co,
        "co2": burnt * made.co2,
        "o2": burnt * made.o2 + unburnt * air,
        "hc": unburnt / 6.0,
    }
    total = burnt * made.dry_total + unburnt * air * (1.0 + NITROGEN_PER_OXYGEN) + amounts["hc"]
    shares = {name: (1.0 - stray) * float(amount / total) for name, amount in amounts.items()}
    shares["o2"] += stray / (1.0 + NITROGEN_PER_OXYGEN)
    return {name: (1.0 - moisture) * share for name, share in shares.items()}


def read(shares, class_=CLASS_1):
    """Readings of exactly these shares, with the doubt of their class."""
    return {name: GasValue(share, class_.u(name, share)) for name, share in shares.items()}


def mixture(*gases, fuel=E5, **named):
    shares = dict(zip(("co", "co2", "o2", "hc"), gases, strict=False)) | named
    return mixture_from_gas(read({name: share for name, share in shares.items() if share is not None}), fuel)


def kinds(shares, fuel=E5):
    gases = read(shares)
    return [sign.kind for sign in signs_of(mixture_from_gas(gases, fuel), gases, fuel)]


# ------------------------------------------------------------------------- lambda and its doubt


def test_lambda_is_the_equations_own():
    found = mixture(0.015, 0.139, 0.006, 180e-6)
    assert found.method == "whole"
    assert found.lambda_.value == pytest.approx(lambda_from_gas(0.015, 0.139, 0.006, 180e-6, 0.0, *FUEL))
    assert found.afr.value == pytest.approx(found.lambda_.value * E5.stoichiometric_afr)
    assert found.assumed == ()


def test_nox_counts_for_half_its_oxygen():
    without, with_it = mixture(0.0, 0.139, 0.01, 0.0), mixture(0.0, 0.139, 0.01, 0.0, nox=0.002)
    gained = 0.001 / (oxygen_demand(*FUEL) * 0.139)
    assert with_it.lambda_.value - without.lambda_.value == pytest.approx(gained, rel=1e-9)


def test_where_nothing_is_bent_the_doubt_is_that_of_a_straight_line():
    shares = {"co": 0.03, "co2": 0.13, "o2": 0.01, "hc": 300e-6}
    gases = {name: GasValue(share, 0.01 * share) for name, share in shares.items()}
    found = mixture_from_gas(gases, E5)

    def at(**changed):
        one = {**shares, "no": 0.0, "y": FUEL[0], "z": FUEL[1], "k": 3.5} | changed
        return lambda_from_gas(*one.values())

    # HC drawn up to k times itself; its own error is stretched with it.
    unseen, seen_u = shares["hc"] * module.MOST_UNSEEN, gases["hc"].u
    stretch = math.sqrt(1.0 + module.MOST_UNSEEN + module.MOST_UNSEEN**2 / 3.0)
    slopes = [at(**{name: share + gases[name].u}) - at() for name, share in shares.items() if name != "hc"]
    slopes += [at(hc=shares["hc"] + stretch * seen_u) - at()]
    slopes += [(at(hc=shares["hc"] + unseen) - at()) / math.sqrt(3.0)]
    width = module.ETHANOL_WIDTH + module.ETHANOL_WIDTH_RELATIVE * 0.05
    more = blend(0.05 + width)
    root = math.sqrt(3.0)
    slopes += [
        (at(y=FUEL[0] + module.PETROL_WIDTH * 0.95) - at()) / root,
        (at(y=more.hydrogen_per_carbon, z=more.oxygen_per_carbon) - at()) / root,
        (at(k=3.5 + module.WATER_GAS_WIDTH) - at()) / root,
        module.METHOD_WIDTH / root,
    ]
    # 20,000 draws give a standard deviation to 0.5 %; the small terms are bent a little.
    assert found.lambda_.u == pytest.approx(math.hypot(*slopes), rel=0.03)


def test_a_fault_that_all_cells_share_makes_the_doubt_no_larger_than_faults_apart():
    # Cell pressure and span gas move CO, CO2 and HC together by up to 5 %.
    random = np.random.default_rng(3)
    shares = exhaust(0.95)
    together = 1.0 + 0.05 * random.uniform(-1.0, 1.0, 20_000)
    drawn = lambda_from_gas(
        shares["co"] * together, shares["co2"] * together, shares["o2"], shares["hc"] * together, 0.0, *FUEL
    )
    gases = {name: GasValue(one, 0.05 * one / math.sqrt(3.0)) for name, one in shares.items()}
    apart = mixture_from_gas(gases, E5)
    assert np.std(drawn) < apart.lambda_.u


def test_a_reading_of_nothing_is_doubted_on_one_side_only():
    sound = {"co": GasValue(0.0, 0.002), "co2": GasValue(0.139, 0.0), "o2": GasValue(0.01, 0.0)}
    found = mixture_from_gas({**sound, "hc": GasValue(0.0, 0.0)}, E5)
    # CO can only be more, and more CO is richer: the reading itself is near the top of what may be.
    assert found.lambda_.high < found.lambda_.value + 0.004
    assert found.lambda_.low < found.lambda_.value - 0.01
    negative = mixture_from_gas({**sound, "co": GasValue(-0.0005, 0.002), "hc": GasValue(0.0, 0.0)}, E5)
    assert negative.lambda_.value == found.lambda_.value


def test_what_the_doubt_comes_from_adds_up():
    found, dirtier = mixture(0.015, 0.139, 0.006, 60e-6), mixture(0.015, 0.139, 0.006, 360e-6)
    assert math.fsum(found.budget.values()) == pytest.approx(1.0)
    assert max(found.budget, key=found.budget.get) == "o2"
    assert max(dirtier.budget, key=dirtier.budget.get) == "hc"


@pytest.mark.parametrize("hc", [100e-6, 180e-6, 360e-6, 720e-6])
def test_the_doubt_holds_the_hc_that_infrared_does_not_see(hc):
    found, true = mixture(0.015, 0.139, 0.006, hc), mixture(0.015, 0.139, 0.006, 2.0 * hc)
    assert found.lambda_.low < true.lambda_.value < found.lambda_.value
    # Nobody sees more than there is: what is added lies on the rich side alone.
    gases = read({"co": 0.015, "co2": 0.139, "o2": 0.006, "hc": hc})
    by_flame = mixture_from_gas(gases, E5, infrared=False)
    assert by_flame.lambda_.value == found.lambda_.value
    assert found.lambda_.high <= by_flame.lambda_.high
    assert by_flame.lambda_.u < found.lambda_.u


def test_a_worse_analyser_is_less_sure():
    sure, less = (
        mixture_from_gas(read(exhaust(0.96), analyser_class(name)), E5).lambda_.u for name in ("00", "I")
    )
    assert sure < less


def test_hc_that_was_not_read_is_taken_as_a_sound_engines_and_said():
    found, known = mixture(0.015, 0.139, 0.006), mixture(0.015, 0.139, 0.006, 150e-6)
    assert found.assumed == ("hc",)
    assert found.lambda_.value == known.lambda_.value
    assert found.lambda_.u > known.lambda_.u
    assert found.unburnt is None


@given(lambda_=st.floats(0.75, 0.985), stray=st.floats(0.0, 0.3))
@settings(max_examples=25)
def test_co_against_co2_is_not_moved_by_stray_air(lambda_, stray):
    shares = exhaust(lambda_, unmixed=module.UNMIXED, unburnt=0.0, stray=stray)
    found = mixture(shares["co"], shares["co2"])
    if found.lambda_ is not None:  # little CO tells no lambda
        assert found.method == "co_and_co2"
        assert found.lambda_.value == pytest.approx(lambda_, abs=1e-6)
        assert found.burnt_lambda == found.lambda_.value


@given(lambda_=st.floats(0.75, 0.97))
@settings(max_examples=25)
def test_co_alone_comes_near_in_an_engine_that_burns_as_usual(lambda_):
    found = mixture(exhaust(lambda_, unmixed=module.UNMIXED, unburnt=0.0)["co"])
    assert found.method == "co"
    assert found.lambda_.value == pytest.approx(lambda_, abs=0.002)  # O2 beside CO thins it a little


@pytest.mark.parametrize("gases", [(0.004,), (0.004, 0.145)])
def test_little_co_alone_gives_no_lambda(gases):
    assert mixture(*gases).lambda_ is None


def test_gas_that_is_mostly_air_gives_no_lambda():
    found = mixture(0.004, 0.04, 0.15, 50e-6)
    assert (found.lambda_, found.afr, dict(found.budget)) == (None, None, {})


@pytest.mark.parametrize(
    ("gases", "words"),
    [
        ({"co2": 0.14, "o2": 0.01}, "co is missing"),
        ({"co": 0.01, "o2": 0.01}, "co2 is missing"),
        ({"co": 0.0, "co2": 0.0, "o2": 0.209}, "nothing burnt"),
    ],
)
def test_too_few_gases_are_refused_with_what_is_wanted(gases, words):
    with pytest.raises(FieldProblem, match=words):
        mixture(**gases)


def test_the_stated_interval_holds_the_true_lambda_as_often_as_it_says():
    random = np.random.default_rng(11)
    held, cars = 0, 250
    for _ in range(cars):
        lambda_ = random.uniform(0.85, 1.1)
        shares = exhaust(
            lambda_, unmixed=random.uniform(0.0, 0.06), unburnt=random.uniform(0.0, 0.015),
            moisture=random.uniform(0.0, 0.035), water_gas=random.uniform(3.2, 3.8),
        )  # fmt: skip
        shares["hc"] *= random.uniform(0.45, 1.0)  # what infrared shows
        seen = {
            name: GasValue(
                share + CLASS_1.half_width(name, share) * random.uniform(-1.0, 1.0), CLASS_1.u(name, share)
            )
            for name, share in shares.items()
        }
        found = mixture_from_gas(seen, E5).lambda_
        held += found.low <= lambda_ <= found.high
    # 95 % of 250, three standard deviations of a count (1.4 %) below; above it may only be too careful.
    assert held / cars > 0.95 - 3.0 * math.sqrt(0.95 * 0.05 / cars)


def test_the_same_readings_always_give_the_same_doubt():
    assert mixture(0.015, 0.139, 0.006, 180e-6) == mixture(0.015, 0.139, 0.006, 180e-6)


def test_wet_gas_gives_the_same_lambda_and_dry_shares():
    shares = exhaust(0.93)
    made = dry_products(0.93, *FUEL, 3.5, 0.03)
    wet = 1.0 / (1.0 + float(made.h2o / made.dry_total))
    back = dried(read({name: wet * share for name, share in shares.items()}), E5)
    # Water of the burnt part alone; half a per cent that did not burn has none.
    assert back["co"].value == pytest.approx(shares["co"], rel=2e-3)
    assert back["o2"].value == pytest.approx(shares["o2"], rel=2e-3)
    with pytest.raises(FieldProblem, match="co2 is missing"):
        dried(read({"co": 0.01}), E5)


def test_a_display_for_another_fuel_is_right_in_lambda():
    # 14.1 on a display for 14.7 is lambda 0.959; on E85 that is 0.959 * 9.797 by mass.
    lambda_ = GasValue(14.1 / 14.7, 0.004)
    assert afr_of(lambda_, blend(0.85)).value == pytest.approx(14.1 / 14.7 * 9.7973, abs=1e-3)
    assert as_read(lambda_).low == pytest.approx(14.1 / 14.7 - 0.95 * math.sqrt(3.0) * 0.004)


def test_a_sound_engine_shows_the_co_of_workshop_tables():
    # 1 to 2 % of CO is lambda 0.95 to 0.97 (common practice).
    assert 0.010 < sound_exhaust(0.97, E5)["co"] < 0.015
    assert 0.018 < sound_exhaust(0.95, E5)["co"] < 0.022


# ------------------------------------------------------------------------- what the gases show


@given(
    lambda_=st.floats(0.8, 1.12),
    unmixed=st.floats(0.0, 0.06),
    unburnt=st.floats(0.0, 0.015),
    moisture=st.floats(0.0, 0.035),
    errors=st.tuples(*[st.floats(-1.0, 1.0)] * 4),
)
@settings(max_examples=60)
def test_a_sound_engine_on_a_sound_analyser_shows_nothing_odd(lambda_, unmixed, unburnt, moisture, errors):
    true = exhaust(lambda_, unmixed=unmixed, unburnt=unburnt, moisture=moisture)
    shares = {
        name: max(0.0, share + error * CLASS_1.half_width(name, share))
        for (name, share), error in zip(true.items(), errors, strict=True)
    }
    assert kinds(shares) == []


@given(lambda_=st.floats(0.8, 0.96), stray=st.floats(0.08, 0.5))
@settings(max_examples=40)
def test_stray_air_in_rich_gas_is_noticed_and_its_amount_told(lambda_, stray):
    shares = exhaust(lambda_, stray=stray)
    gases = read(shares)
    signs = signs_of(mixture_from_gas(gases, E5), gases, E5)
    assert [sign.kind for sign in signs] == ["stray_air_or_uneven"]
    told = float(signs[0].figures["air"].removesuffix(" %")) / 100.0
    assert told == pytest.approx(stray, abs=0.02)
    assert float(signs[0].figures["burnt_lambda"]) == pytest.approx(lambda_, abs=0.02)


@given(lambda_=st.floats(0.85, 1.1), unburnt=st.floats(0.06, 0.3), seen=st.floats(0.5, 1.0))
@settings(max_examples=40)
def test_a_misfire_is_noticed_also_by_an_analyser_that_sees_half_of_the_fuel(lambda_, unburnt, seen):
    shares = exhaust(lambda_, unburnt=unburnt)
    shares["hc"] *= seen
    assert kinds(shares) == ["misfire"]


@pytest.mark.parametrize("stray", [0.2, 0.4])
def test_stray_air_beside_a_misfire_is_told_as_well(stray):
    assert kinds(exhaust(0.9, unburnt=0.05, stray=stray)) == ["misfire", "stray_air_or_uneven"]


def test_one_cylinder_far_richer_than_the_others_is_noticed():
    rich, lean = exhaust(0.75), exhaust(1.1)
    shares = {name: 0.5 * rich[name] + 0.5 * lean[name] for name in rich}
    assert kinds(shares) == ["stray_air_or_uneven"]
    assert mixture(*shares.values()).lambda_.value == pytest.approx(0.925, abs=0.02)


def test_unburnt_fuel_without_its_air_is_no_misfire():
    assert kinds({"co": 0.06, "co2": 0.103, "o2": 0.004, "hc": 1800e-6}) == ["unburnt_fuel"]


@given(
    co=st.floats(0.005, 0.06),
    hc=st.floats(800e-6, 3000e-6),
    patchiness=st.floats(0.0, 0.08),
    seen=st.floats(0.45, 1.0),
)
@settings(max_examples=60)
def test_oil_that_a_sound_engine_burns_is_no_misfire_whatever_o2_it_leaves(co, hc, patchiness, seen):
    own = sound_o2(co, patchiness)
    assert "misfire" not in kinds({"co": co, "co2": 0.154 - co, "o2": own, "hc": hc * seen})


def sound_o2(co, patchiness):
    """O2 beside this CO of an engine so patchy, rich or at lambda 1; looked for along lambda."""
    lambdas = np.linspace(0.7, 1.0, 3001)
    made = dry_products(lambdas, *FUEL, 3.5, patchiness)
    place = int(np.argmin(np.abs(made.co / made.dry_total - co)))
    return float(made.o2[place] / made.dry_total[place])


@pytest.mark.parametrize(
    ("o2", "kind"), [(0.004, "unburnt_fuel"), (0.008, "unburnt_fuel"), (0.018, "misfire")]
)
def test_the_engines_own_o2_is_taken_off_before_a_misfire_is_called(o2, kind):
    assert kinds({"co": 0.015, "co2": 0.139, "o2": o2, "hc": 800e-6})[0] == kind


@given(lambda_=st.floats(0.8, 1.1), gas=st.sampled_from(["co2", "o2"]), factor=st.sampled_from([0.1, 10.0]))
@settings(max_examples=40)
def test_a_slipped_decimal_point_does_not_pass(lambda_, gas, factor):
    shares = exhaust(lambda_)
    slipped = {**shares, gas: min(1.0, factor * shares[gas])}
    if abs(slipped[gas] - shares[gas]) > 0.02:  # a smaller slip is within the doubt of the sum
        assert kinds(slipped) == ["not_together"]


@pytest.mark.parametrize(
    ("shares", "offer"),
    [
        ({"co": 0.01, "co2": 0.0139, "o2": 0.006, "hc": 1e-4}, "CO2 near 13.8 %"),
        ({"co": 0.01, "co2": 0.14, "o2": 0.14, "hc": 1e-4}, "O2 near"),
        ({"co": 0.015, "co2": 0.40, "o2": 0.006, "hc": 1e-4}, "CO2 near 13.8 %"),
    ],
)
def test_readings_that_do_not_belong_together_say_what_would_fit(shares, offer):
    gases = read(shares)
    (sign,) = signs_of(mixture_from_gas(gases, E5), gases, E5)
    assert sign.kind == "not_together"
    assert offer in sign.figures["offers"]


@pytest.mark.parametrize(
    ("shares", "kind"),
    [
        ({"co": 0.0005, "co2": 0.02, "o2": 0.18, "hc": 2e-5}, "too_thin"),
        ({"co": 0.001, "co2": 0.12, "o2": 0.045, "hc": 6e-5}, "too_lean"),
        ({"co": 0.11, "co2": 0.08, "o2": 0.002, "hc": 4e-4}, "too_rich"),
        ({"co": 0.002}, "little_co"),
        ({"co": 0.002, "co2": 0.14}, "little_co"),
    ],
)
def test_the_ends_are_said(shares, kind):
    assert kinds(shares) == [kind]


def test_a_display_that_disagrees_is_said():
    found = mixture(0.015, 0.139, 0.006, 180e-6)
    assert meter_sign(found, GasValue(0.978, 0.004)) is None
    assert meter_sign(found, GasValue(0.93, 0.004)).kind == "meter_differs"
    assert meter_sign(mixture(0.004), GasValue(0.93, 0.004)) is None


def test_every_sign_has_its_words_and_sends_to_checks_that_exist():
    rows = data.shipped("exhaust_signs.toml").values["sign"]
    assert sorted(row["id"] for row in rows) == sorted(KINDS)
    assert {name for row in rows for name in row["checks"]} <= set(catalogue().checks)


# ------------------------------------------------------------------------- analysers


def test_a_class_is_its_absolute_figure_or_a_share_of_the_reading():
    assert CLASS_1.half_width("co", 0.002) == 0.0006
    assert CLASS_1.half_width("co", 0.02) == pytest.approx(0.001)
    assert CLASS_1.u("o2", 0.0) == pytest.approx(0.001 / math.sqrt(3.0))
    assert analyser_class("1") == analyser_class("i") == CLASS_1
    assert "from memory" in CLASS_1.basis


def test_an_unknown_class_is_answered_with_those_there_are():
    with pytest.raises(UnknownName, match="00, 0, I"):
        analyser_class("III")


def test_hc_is_made_hexane():
    assert hexane_factor("hexane") == (1.0, 0.0)
    assert hexane_factor("carbon") == (pytest.approx(1.0 / 6.0), 0.0)
    assert hexane_factor("propane", 0.52) == (0.52, 0.0)
    middle, u = hexane_factor("propane")
    assert (middle, u) == (pytest.approx(0.515), pytest.approx(0.025 / math.sqrt(3.0)))
    with pytest.raises(UnknownName, match="hexane, propane, carbon"):
        hexane_factor("methane")
    with pytest.raises(FieldProblem, match="belongs to HC shown as propane"):
        hexane_factor("hexane", 0.5)
    with pytest.raises(Questioned, match=r"0\.4 to 0\.6"):
        hexane_factor("propane", 5.2)
