"""What the exhaust gas says, as it is answered."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from evenpour import data
from evenpour.errors import FieldProblem
from evenpour.job.answers import CautionLine
from evenpour.job.catalogue import Catalogue, catalogue
from evenpour.job.facts import Facts
from evenpour.job.gas.answers import ExpectedGas, FuelTold, GasAnswer, MeterTold, ReadGas, SignTold
from evenpour.job.gas.reading import UNSAID, Analyser, GasRead, MeterRead, read_gases, read_meter
from evenpour.measure.exhaust_signs import Sign, meter_alone_sign, meter_sign, signs_of
from evenpour.measure.instruments import AFR_AT_LAMBDA_1
from evenpour.measure.mixture import (
    ASSUMED_HC,
    LEAST_BURNT,
    READ_COVERAGE,
    Drawn,
    GasValue,
    Mixture,
    afr_of,
    as_read,
    mixture_from_gas,
    sound_exhaust,
)
from evenpour.measure.units import in_unit, shown
from evenpour.physics.blend import Blend, blend, ethanol_share
from evenpour.physics.exhaust_balance import corrected_co

CAUTION = "carbon_monoxide"
NOTICE = (
    "The engine's manual says which mixture is right, and the law of the place what may leave the exhaust."
)
MOST_HC = 0.1  # share, as hexane, beyond which no formula holds
METHODS = {
    "whole": "Reckoned from the balance of all gases.",
    "co_and_co2": (
        "From CO against CO2, O2 not read: holds for a rich mixture and cylinders that all fire alike. Stray "
        "air in the exhaust does not disturb it."
    ),
    "co": (
        "From CO alone: holds for a rich mixture and cylinders that all fire alike, with no stray air in the "
        "exhaust."
    ),
    "meter": "From the display alone; stray air and a cylinder that misses make it read lean.",
}
CAUSES = {
    "co": "CO", "co2": "CO2", "o2": "O2", "nox": "NOx",
    "hc": "HC, of which infrared may see only half",
    "fuel": "the fuel, which no pump's label tells to the last per cent",
    "method": "how evenly the cylinders burn, which these gases do not tell",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class GasAsked:
    """One set of readings as typed; None where nothing was."""

    gases: Mapping[str, str]  # by name: co, co2, o2, hc, nox
    fuel: str | None = None
    analyser: Analyser = UNSAID
    meter: str | None = None
    meter_scale: str | None = None
    sure: bool = False


def gas_answer(asked: GasAsked) -> GasAnswer:
    """What the gases say.

    Raises:
        FieldProblem, Questioned: a reading cannot be understood, is odd, or too little was read.
    """
    return answer_from(asked, fuel_of(asked), readings_of(asked), catalogue())


def fuel_of(asked: GasAsked) -> Blend:
    """The blend that was said."""
    if asked.fuel is None:
        raise FieldProblem(
            "fuel",
            None,
            "is missing",
            allowed="E0 to E100",
            remedy="It stands on the pump; E5 or E10 mostly.",
        )
    return blend(ethanol_share(asked.fuel))


def readings_of(asked: GasAsked) -> dict[str, GasRead]:
    """The gases that were typed, understood."""
    return read_gases(asked.gases, catalogue(), asked.analyser, fuel_of(asked), sure=asked.sure)


def answer_from(
    asked: GasAsked, fuel: Blend, read: Mapping[str, GasRead], known: Catalogue, facts: Facts | None = None
) -> GasAnswer:
    """The answer to readings that are understood; *facts* are the job's, and say who read the caution."""
    if not read and asked.meter is None:
        raise FieldProblem(
            "co", None, "is missing", remedy="Give CO, CO2, O2 and HC, or what a display says."
        )
    meter = read_meter(asked.meter, asked.meter_scale, known, sure=asked.sure) if asked.meter else None
    gases = {name: one.gas for name, one in read.items()}
    mixture = mixture_from_gas(gases, fuel, infrared=_is_infrared(asked)) if gases else None
    signs = list(signs_of(mixture, gases, fuel)) if mixture else []
    wrong = any(sign.kind == "not_together" for sign in signs)
    if mixture and meter and not wrong and (differs := meter_sign(mixture, meter.gas)):
        signs.append(differs)
    silent = mixture is None or (mixture.lambda_ is None and meter is not None)
    if silent and meter and (alone := meter_alone_sign(meter.gas)):
        signs.append(alone)
    told = [sign_told(sign) for sign in signs]
    lambda_, afr = _result(mixture, meter, fuel)
    corrected = _corrected(read)
    method = "meter" if mixture is None or silent else mixture.method
    return GasAnswer(
        **_figures(lambda_, afr, signs, READ_COVERAGE if method == "meter" else 2.0),
        co_corrected=corrected,
        corrected_words=_corrected_words(corrected, read),
        warnings=[f"{one.says} {one.look}" for one in told],
        signs=told,
        notes=[
            *_notes(read, mixture),
            *([] if wrong else _about_hc(asked, gases, fuel, mixture)),
            *_about_scale(asked),
        ],
        method=method,
        method_words=METHODS[method],
        fuel=_fuel_told(fuel),
        gases=[_gas_told(one) for one in read.values()],
        budget=dict(mixture.budget) if mixture else {},
        sharpen=_sharpen(mixture),
        lambda_without_stray_air=mixture.burnt_lambda if mixture else None,
        expected=_expected(lambda_, fuel),
        meter=_meter_told(meter, fuel) if meter else None,
        cautions=[gas_caution(known, facts)],
        notice=NOTICE,
    )


def _result(
    mixture: Mixture | None, meter: MeterRead | None, fuel: Blend
) -> tuple[Drawn | None, Drawn | None]:
    """Lambda and the air-fuel ratio: the gases' where they tell one, else the display's."""
    if mixture is not None and mixture.lambda_ is not None:
        return mixture.lambda_, mixture.afr
    return (as_read(meter.gas), afr_of(meter.gas, fuel)) if meter else (None, None)


def _figures(
    lambda_: Drawn | None, afr: Drawn | None, signs: Sequence[Sign], coverage: float
) -> dict[str, Any]:
    """Lambda and the air-fuel ratio as numbers and as words; all of them None where there is no answer."""
    if lambda_ is None or afr is None:
        names = ("lambda_", "u", "low", "high", "afr", "u_afr", "shown", "mixture_words", "afr_shown")
        return dict.fromkeys(names)
    return {
        "lambda_": lambda_.value,
        "u": lambda_.u,
        "low": lambda_.low,
        "high": lambda_.high,
        "shown": shown(lambda_.value, "lambda", u=lambda_.u, k=coverage),
        "mixture_words": _mixture_words(lambda_, signs),
        "afr": afr.value,
        "u_afr": afr.u,
        "afr_shown": _ratio_shown(afr),
    }


def _ratio_shown(afr: Drawn) -> str:
    """``13.97 ± 0.24``, without the label that some displays give to something else."""
    return shown(afr.value, "afr", u=afr.u).removesuffix(" AFR")


def _corrected(read: Mapping[str, GasRead]) -> float | None:
    """In per cent; None where there is too little burnt gas to correct by."""
    burnt = sum(read[name].gas.value for name in ("co", "co2") if name in read)
    if "co" not in read or "co2" not in read or burnt < LEAST_BURNT:
        return None
    return 100.0 * float(corrected_co(max(0.0, read["co"].gas.value), read["co2"].gas.value))


def _corrected_words(corrected: float | None, read: Mapping[str, GasRead]) -> str | None:
    if corrected is None:
        return None
    if 100.0 * read["co"].gas.value < corrected:
        return f"CO corrected for stray air: {corrected:.2f} %."
    return "CO and CO2 make 15 % or more, so CO needs no correction."


def _mixture_words(lambda_: Drawn, signs: Sequence[Sign]) -> str:
    """``rich: 4 % less air than burns all the fuel``, and whether that can be believed."""
    if any(sign.kind == "not_together" for sign in signs):
        return "worth nothing yet: see the warning below"
    return f"{_rich_or_lean(lambda_)}{'; but see the warning below' if signs else ''}"


def _rich_or_lean(lambda_: Drawn) -> str:
    off = f"{abs(100.0 * (lambda_.value - 1.0)):.2g} %"
    if lambda_.high < 1.0:
        return f"rich: {off} less air than burns all the fuel"
    if lambda_.low > 1.0:
        return f"lean: {off} more air than burns all the fuel"
    return "neither rich nor lean, as far as this can tell"


def _sharpen(mixture: Mixture | None) -> str | None:
    """The cause of most of the doubt, where one stands out."""
    if mixture is None or not mixture.budget:
        return None
    cause = max(mixture.budget, key=lambda name: mixture.budget[name])
    share = mixture.budget[cause]
    words = "HC, which was not read" if cause in mixture.assumed else CAUSES[cause]
    return f"Most of the doubt ({100.0 * share:.0f} %) comes from {words}." if share > 0.5 else None


def _notes(read: Mapping[str, GasRead], mixture: Mixture | None) -> list[str]:
    done: dict[str, list[str]] = {}
    for one in read.values():
        for words in one.converted:
            done.setdefault(words, []).append(one.title.partition(",")[0])
    notes = [f"{', '.join(titles)}: {words}." for words, titles in done.items()]
    notes += [
        f"{one.title.partition(',')[0]} stands at the end of the analyser's scale: it may be more."
        for one in read.values()
        if one.at_the_end
    ]
    if mixture is not None and "hc" in mixture.assumed:
        most = f"{2e6 * ASSUMED_HC:.0f} ppm"
        notes.append(f"HC was not read: 0 to {most} as hexane is taken, as a sound warm engine has.")
    return notes


def _is_infrared(asked: GasAsked) -> bool:
    """HC shown as single atoms of carbon is a flame's, which counts every one."""
    return asked.analyser.hc_as != "carbon"


def _about_hc(
    asked: GasAsked, gases: Mapping[str, GasValue], fuel: Blend, mixture: Mixture | None
) -> Iterator[str]:
    """What unseen HC would do to lambda, where that is most of the doubt."""
    if mixture is None or mixture.method != "whole" or mixture.lambda_ is None or "hc" not in gases:
        return
    if not _is_infrared(asked):
        return
    seen = gases["hc"]
    twice = mixture_from_gas({**gases, "hc": GasValue(min(2.0 * seen.value, MOST_HC), seen.u)}, fuel).lambda_
    if twice is not None and abs(twice.value - mixture.lambda_.value) > mixture.lambda_.u:
        yield (
            "Infrared sees about half of the HC in an exhaust (common practice, no source), and the "
            f"equation takes it as shown. With twice as much, lambda is {twice.value:.3f}; the doubt counts "
            "that in."
        )


def _about_scale(asked: GasAsked) -> Iterator[str]:
    if asked.meter is not None and asked.meter_scale is None and "afr" in asked.meter.lower():
        yield (
            f"The display is taken to show {AFR_AT_LAMBDA_1:g} at lambda 1, as most do; if it was set to "
            "another fuel, say --meter-scale."
        )


def _expected(lambda_: Drawn | None, fuel: Blend) -> ExpectedGas | None:
    if lambda_ is None or lambda_.value <= 0.0:
        return None
    return ExpectedGas(**{name: 100.0 * one for name, one in sound_exhaust(lambda_.value, fuel).items()})


def _fuel_told(fuel: Blend) -> FuelTold:
    return FuelTold(
        name=f"E{100.0 * fuel.ethanol_share:g}",
        ethanol_share=fuel.ethanol_share,
        hydrogen_per_carbon=fuel.hydrogen_per_carbon,
        oxygen_per_carbon=fuel.oxygen_per_carbon,
        stoichiometric_afr=fuel.stoichiometric_afr,
    )


def _gas_told(one: GasRead) -> ReadGas:
    value, u = (in_unit(side, one.unit, "share") for side in (one.gas.value, one.gas.u))
    return ReadGas(
        what=one.check,
        title=one.title,
        value=value,
        unit=one.unit,
        u=u,
        shown=shown(one.gas.value, "share", u=one.gas.u, k=READ_COVERAGE, unit=one.unit),
        typed=one.typed,
        basis=one.basis,
    )


def _meter_told(meter: MeterRead, fuel: Blend) -> MeterTold:
    afr = afr_of(meter.gas, fuel)
    name = f"E{100.0 * fuel.ethanol_share:g}"
    lambda_ = shown(meter.gas.value, "lambda", u=meter.gas.u, k=READ_COVERAGE)
    scale = f" ({meter.scale:g} at lambda 1)" if "afr" in meter.typed.lower() else ""
    return MeterTold(
        typed=meter.typed,
        scale=meter.scale,
        lambda_=meter.gas.value,
        u=meter.gas.u,
        afr=afr.value,
        words=f"{meter.typed}{scale} on the display is {lambda_}, by mass {_ratio_shown(afr)} on {name}.",
        basis=meter.basis,
    )


def sign_told(sign: Sign) -> SignTold:
    """A sign in the data's words."""
    words = _sign_words()[sign.kind]
    says = [words["says"], *(text for name, text in words.get("more", {}).items() if name in sign.figures)]
    return SignTold(
        kind=sign.kind,
        says=" ".join(text.format_map(sign.figures) for text in says),
        look=words["look"],
        checks=list(words["checks"]),
    )


@cache
def _sign_words() -> Mapping[str, Mapping[str, Any]]:
    return {row["id"]: row for row in data.shipped("exhaust_signs.toml").values["sign"]}


def gas_caution(known: Catalogue, facts: Facts | None) -> CautionLine:
    """The caution that comes before any exhaust gas; *facts* are the job's, and say who read it."""
    one = known.cautions[CAUTION]
    told = facts.of_kind("caution") if facts else ()
    read = next((fact.told for fact in reversed(told) if fact.content["id"] == CAUTION), None)
    return CautionLine(
        id=one.id,
        title=one.title,
        text=one.text,
        sign=one.sign,
        read_by=read.who if read else None,
        read_at=(read.at or None) if read else None,
    )
