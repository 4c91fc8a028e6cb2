"""What the record asks of a job. ``evenpour.job.open_job`` gives it; the tests give samples."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from evenpour.job.answers import (
    CatchAnswer,
    CautionLine,
    HistoryLine,
    JudgeAnswer,
    OverrideLine,
    PathAnswer,
    RenewedLine,
    ScrewMove,
)
from evenpour.job.causes.answers import CausesAnswer
from evenpour.job.photos import Photo
from evenpour.job.sheet.answers import SheetAnswer
from evenpour.job.trace.answers import KeptRecording


class AskedJob(Protocol):
    """A job as the record sees it; every text in it is in the user's units already."""

    @property
    def name(self) -> str: ...
    @property
    def number(self) -> int | None: ...
    @property
    def engine(self) -> Mapping[str, Any]: ...
    @property
    def chain_head(self) -> str: ...
    @property
    def closed(self) -> bool: ...

    def sheet_answer(self) -> SheetAnswer: ...
    def judge(self) -> JudgeAnswer: ...
    def path(self) -> PathAnswer: ...
    def catch(self) -> CatchAnswer | None: ...  # asked twice: job keeps what it weighed
    def ledger(self) -> Sequence[ScrewMove]: ...
    def history(self) -> Sequence[HistoryLine]: ...
    def corrections(self) -> Sequence[HistoryLine]: ...
    def overrides(self) -> Sequence[OverrideLine]: ...
    def cautions(self) -> Sequence[CautionLine]: ...
    def renewed(self) -> Sequence[RenewedLine]: ...
    def instruments(self) -> Sequence[tuple[str, str]]: ...
    def calibrations(self) -> Mapping[str, str]: ...
    def recordings(self) -> Sequence[KeptRecording]: ...  # asked twice: they are drawn beside
    def photos(self) -> Sequence[Photo]: ...


@dataclass(frozen=True, slots=True)
class Answers:
    """All answers of one job, each asked for once, in the user's ``units``."""

    units: str
    name: str
    number: int | None
    engine: Mapping[str, Any]
    chain_head: str
    closed: bool
    sheet: SheetAnswer
    judge: JudgeAnswer
    path: PathAnswer
    catch: CatchAnswer | None
    ledger: tuple[ScrewMove, ...]
    history: tuple[HistoryLine, ...]
    corrections: tuple[HistoryLine, ...]
    overrides: tuple[OverrideLine, ...]
    cautions: tuple[CautionLine, ...]
    renewed: tuple[RenewedLine, ...]
    instruments: tuple[tuple[str, str], ...]
    calibrations: Mapping[str, str]
    causes: CausesAnswer | None
    recordings: tuple[KeptRecording, ...]
    photos: tuple[Photo, ...]


def answers_of(job: AskedJob, units: str, causes: CausesAnswer | None = None) -> Answers:
    """Everything the record needs, asked once; *causes* where they are known."""
    return Answers(
        units=units,
        name=job.name,
        number=job.number,
        engine=job.engine,
        chain_head=job.chain_head,
        closed=job.closed,
        sheet=job.sheet_answer(),
        judge=job.judge(),
        path=job.path(),
        catch=job.catch(),
        ledger=tuple(job.ledger()),
        history=tuple(job.history()),
        corrections=tuple(job.corrections()),
        overrides=tuple(job.overrides()),
        cautions=tuple(job.cautions()),
        renewed=tuple(job.renewed()),
        instruments=tuple(job.instruments()),
        calibrations=job.calibrations(),
        causes=causes,
        recordings=tuple(job.recordings()),
        photos=tuple(job.photos()),
    )
