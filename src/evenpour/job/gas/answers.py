"""What `evenpour gas` answers."""

from __future__ import annotations

from typing import Literal

from pydantic import ConfigDict, Field

from evenpour.job.answers import AddAnswer, Answer, CautionLine


class ReadGas(Answer):
    """A gas as it was read."""

    what: str
    title: str
    value: float = Field(description="In `unit`; dry, and HC as n-hexane.")
    unit: str
    u: float = Field(description="Standard uncertainty, k = 1, in `unit`.")
    shown: str
    typed: str
    basis: str = Field(description="Where the uncertainty comes from.")


class FuelTold(Answer):
    """The blend, and what it is made of."""

    name: str
    ethanol_share: float = Field(description="By volume, as a fraction.")
    hydrogen_per_carbon: float
    oxygen_per_carbon: float
    stoichiometric_afr: float


class MeterTold(Answer):
    """A wideband display's figure, and what it means on this fuel."""

    model_config = ConfigDict(serialize_by_alias=True)

    typed: str
    scale: float = Field(description="AFR that it shows at lambda 1.")
    lambda_: float = Field(serialization_alias="lambda")
    u: float
    afr: float = Field(description="The air-fuel ratio by mass on this fuel, whatever the display calls it.")
    words: str
    basis: str


class SignTold(Answer):
    """Something odd that the gases show."""

    kind: str
    says: str
    look: str
    checks: list[str] = Field(description="Ids of checks that tell more.")


class ExpectedGas(Answer):
    """Dry gas of a sound engine at this lambda, in per cent."""

    co: float
    co2: float
    o2: float


class GasAnswer(Answer):
    """`evenpour gas`"""

    model_config = ConfigDict(serialize_by_alias=True)

    lambda_: float | None = Field(
        serialization_alias="lambda", description="null where the gases hold no answer."
    )
    u: float | None = Field(description="Standard uncertainty of lambda, k = 1.")
    low: float | None = Field(description="`low` to `high` holds lambda with 95 %.")
    high: float | None
    afr: float | None = Field(description="Air-fuel ratio by mass on this fuel.")
    u_afr: float | None
    co_corrected: float | None = Field(
        description="CO corrected for stray air, CO * 15 / (CO + CO2), in per cent; null without CO2."
    )
    corrected_words: str | None
    warnings: list[str] = Field(description="What is odd, and what to look at.")
    signs: list[SignTold] = Field(description="The same for programs.")
    notes: list[str] = Field(description="What was assumed or converted.")
    method: Literal["whole", "co_and_co2", "co", "meter"] = Field(
        description="From all gases; without O2; from CO alone; from the display alone."
    )
    method_words: str
    shown: str | None = Field(description="Lambda as it is shown.")
    mixture_words: str | None
    afr_shown: str | None
    fuel: FuelTold
    gases: list[ReadGas]
    budget: dict[str, float] = Field(description="Each cause's share of u squared.")
    sharpen: str | None = Field(description="Where most of the doubt comes from.")
    lambda_without_stray_air: float | None = Field(
        description="From CO and CO2 alone, which stray air cannot change; null with little CO."
    )
    expected: ExpectedGas | None
    meter: MeterTold | None
    cautions: list[CautionLine]
    added: AddAnswer | None = Field(default=None, description="What the readings changed in the job.")
    kept: list[str] = Field(default=[], description="The entries that the job kept.")
    notice: str
