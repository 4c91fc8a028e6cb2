"""Petrol's density: what must hold for any petrol, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import OutOfRange
from evenpour.physics.fuel import petrol_density, petrol_volume


@given(reference=st.floats(653.0, 787.5), temperature=st.floats(233.15, 368.0))
def test_warmer_petrol_is_lighter(reference: float, temperature: float) -> None:
    assert petrol_density(reference, temperature + 0.1) < petrol_density(reference, temperature)


@given(mass=st.floats(0.0, 10.0), reference=st.floats(653.0, 787.5), temperature=st.floats(233.15, 368.15))
def test_volume_times_density_is_the_mass_that_was_weighed(
    mass: float, reference: float, temperature: float
) -> None:
    volume = petrol_volume(mass, reference, temperature)
    assert volume * petrol_density(reference, temperature) == pytest.approx(mass, rel=1e-12)


@pytest.mark.parametrize(
    ("reference", "temperature"),
    [(640.0, 288.15), (800.0, 288.15), (740.0, 15.0), (740.0, 400.0), (float("nan"), 288.15)],
)
def test_what_the_table_does_not_hold_is_refused(reference: float, temperature: float) -> None:
    with pytest.raises(OutOfRange, match="outside the formula"):
        petrol_density(reference, temperature)


def test_a_weight_below_zero_is_refused() -> None:
    with pytest.raises(OutOfRange, match="mass"):
        petrol_volume(-0.1, 740.0, 288.15)
