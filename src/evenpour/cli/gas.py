"""``evenpour gas``: the mixture from the exhaust gas, and what else the gases show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from evenpour.cli import show

if TYPE_CHECKING:
    from evenpour.job.answers import AddAnswer
    from evenpour.job.gas.answers import GasAnswer, ReadGas

EXAMPLES = """
\b
  evenpour gas --co 1.5 --co2 13.9 --o2 0.6 --hc 180 --fuel E5 --class I
  evenpour gas --co 1.5 --co2 14 --o2 0.9 --hc 350 --hc-as propane --fuel E10
  evenpour gas --co 1.5 --fuel E5
  evenpour gas --meter "14.1 AFR" --meter-scale 14.7 --fuel E85
  evenpour gas --co 1.5 --co2 14 --o2 1 --hc 90 --job 3 state=idle_warm
"""


@click.command("gas", epilog=EXAMPLES)
@click.argument("words", nargs=-1, metavar="[NAME=VALUE ...]")
@click.option("--co", metavar="%", help="Carbon monoxide.")
@click.option("--co2", metavar="%", help="Carbon dioxide.")
@click.option("--o2", metavar="%", help="Oxygen.")
@click.option("--hc", metavar="PPM", help="Unburnt fuel.")
@click.option("--nox", metavar="PPM", help="Nitrogen oxides, where the analyser shows them.")
@click.option("--fuel", metavar="E0..E100", help="Blend in the tank, by its share of ethanol.")
@click.option(
    "--hc-as", default="hexane", metavar="hexane|propane|carbon", help="What HC is shown as; hexane."
)
@click.option("--pef", help="Propane equivalency factor on the analyser's plate.")
@click.option("--class", "class_", metavar="00|0|I", help="Class of the analyser (OIML R 99), on its plate.")
@click.option("--wet", is_flag=True, help="The gas was read hot, with its water in it.")
@click.option("--meter", metavar="AFR", help='What a wideband display shows: "14.1 AFR", or 0.96 (lambda).')
@click.option("--meter-scale", metavar="AFR", help="What it shows at lambda 1; 14.7 if not said.")
@click.option("--job", help="Keep the readings in this stored job; NAME=VALUE as for add.")
@click.option("--at", help="With --job: when it was so, like 2026-05-03T10:12; now, if not given.")
@click.option("--sure", is_flag=True, help="It is so, odd as it looks.")
@show.json_option
def command(
    words: tuple[str, ...],
    fuel: str | None,
    hc_as: str,
    pef: str | None,
    class_: str | None,
    wet: bool,
    meter: str | None,
    meter_scale: str | None,
    job: str | None,
    at: str | None,
    sure: bool,
    as_json: bool,
    **gases: str | None,
) -> int:
    """Work out the mixture from exhaust gas, with its doubt.

    Numbers without a unit are per cent for CO, CO2 and O2, and ppm for HC and NOx; "1.5 ± 0.1" states a
    doubt. The figures are those of dry gas, as an analyser with a water trap shows them.
    """
    from evenpour.job.gas.answer import GasAsked, gas_answer
    from evenpour.job.gas.reading import analyser_of

    asked = GasAsked(
        gases={name: text for name, text in gases.items() if text is not None},
        fuel=fuel,
        analyser=analyser_of(class_, hc_as, pef, wet),
        meter=meter,
        meter_scale=meter_scale,
        sure=sure,
    )
    if job is None:
        if words or at:
            raise click.UsageError(f"{' '.join(words) or '--at'} belongs to a stored job: say --job as well.")
        answer = gas_answer(asked)
    else:
        from evenpour.job.gas.keeping import gas_into_job

        answer = gas_into_job(job, asked, words, at=at)
    if as_json:
        show.print_json(answer)
    else:
        _print(answer, job)
    added = answer.added
    outside = added is not None and any(row.stands and row.verdict == "outside" for row in added.readings)
    return int(outside or (added is not None and bool(added.went_stale)))


def _print(answer: GasAnswer, job: str | None) -> None:
    show.cautions(answer.cautions, job)
    show.line()
    _print_mixture(answer)
    if answer.added is None:
        if answer.gases:
            show.line()
            _print_gases(answer.gases)
        show.wrapped("± is the doubt: about 19 times in 20 the truth lies that close or closer.")
    for note in answer.notes:
        show.wrapped(note)
    for sign in answer.signs:
        show.line()
        show.wrapped(f"! {sign.says}", hang="  ")
        show.wrapped(f"Look: {sign.look}", "  ")
    if answer.added is not None and job is not None:
        _print_added(answer.added, answer.kept, job)
    show.notice(" ".join([answer.notice, *([answer.added.notice] if answer.added else [])]))


def _print_mixture(answer: GasAnswer) -> None:
    """Lambda, air-fuel ratio, corrected CO and the display's figure, one to a line."""
    sound, wrong = answer.expected, any(sign.kind == "not_together" for sign in answer.signs)
    if answer.shown is None:
        show.wrapped("No lambda can be told from these gases.")
    else:
        show.wrapped(f"{answer.shown[:1].upper()}{answer.shown[1:]}, {answer.mixture_words}.")
    if answer.shown is not None and not wrong:
        whole = f"where {answer.fuel.stoichiometric_afr:.1f} burns all of it"
        show.wrapped(f"Air-fuel ratio {answer.afr_shown} by mass on {answer.fuel.name}, {whole}.")
    if answer.corrected_words and not wrong:
        show.wrapped(answer.corrected_words)
    if answer.shown is not None and not wrong:
        show.wrapped(" ".join([answer.method_words, *([answer.sharpen] if answer.sharpen else [])]))
    if answer.method in ("meter", "co") and sound is not None:
        show.wrapped(
            f"A sound engine then shows CO {sound.co:.1f} %, CO2 {sound.co2:.1f} %, O2 {sound.o2:.1f} %."
        )
    if answer.meter is not None:
        show.wrapped(f"{answer.meter.words} Its doubt: {answer.meter.basis}.")


def _print_gases(gases: list[ReadGas]) -> None:
    """The gases, and where their doubt comes from: once, where it is the same for all."""
    sources = {gas.basis for gas in gases}
    if len(sources) > 1:
        show.table(([gas.title, gas.shown, gas.basis] for gas in gases), ["gas", "read", "doubt from"])
        return
    show.table(([gas.title, gas.shown] for gas in gases), ["gas", "read"])
    show.wrapped(f"Doubt of the gases: {sources.pop()}.")


def _print_added(added: AddAnswer, kept: list[str], job: str) -> None:
    from evenpour.cli.add import print_difference
    from evenpour.cli.judge import print_rows

    show.heading(f"Kept in job {job}: {len(kept)} reading{'s' if len(kept) > 1 else ''}")
    print_rows(added.readings)
    print_difference(added, job)
