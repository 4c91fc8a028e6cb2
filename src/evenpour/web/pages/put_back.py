"""The put-back list: everything disconnected, bridged, fitted or left in, until it is undone."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.responses import Response

from evenpour.job.answers import PutBackAnswer
from evenpour.job.job import Job
from evenpour.job.step_page import step_number, undoing
from evenpour.web.ask import Ask
from evenpour.web.contents import Line
from evenpour.web.routes import Page
from evenpour.web.saving import NOTHING_SENT, FormState, Sent, form_state, save_entry


@dataclass(frozen=True, slots=True)
class Item:
    """One thing, or one of a kind for several cylinders; ``cylinder`` 0 where it has none, or is of all."""

    part: str
    words: str
    name: str
    cylinders: tuple[int, ...]
    since: str
    action: str
    step: str
    step_words: str
    overridden: str


@dataclass(frozen=True, slots=True)
class PutBack:
    """Everything put_back.html may use."""

    items: tuple[Item, ...]
    forms: FormState


def show(ask: Ask) -> Response:
    """The list."""
    return _shown(ask, NOTHING_SENT)


def save(ask: Ask) -> Response:
    """One thing is back, or somebody answers for leaving it."""
    return save_entry(ask, f"/jobs/{ask.number}/put-back", _shown)


def _shown(ask: Ask, sent: Sent) -> Response:
    job = ask.job
    page = PutBack(
        items=tuple(_items(job)),
        forms=form_state(ask, "entry", sent, name_once=True),
    )
    return ask.page("put_back.html", page, title="To put back", status=sent.status)


def _items(job: Job) -> list[Item]:
    groups: dict[tuple[str, str | None], list[PutBackAnswer]] = {}
    for one in job.path().put_back:
        groups.setdefault((one.item, one.overridden), []).append(one)
    return [_item(job, group) for group in groups.values()]


def _item(job: Job, group: list[PutBackAnswer]) -> Item:
    first = group[0]
    part = job.plan.part[first.item]
    title = f"{part.title[:1].upper()}{part.title[1:]}"
    step = first.step or ""
    return Item(
        part=first.item,
        words=first.words or f"put back: {part.title}",
        name=title,
        cylinders=tuple(one.cylinder for one in group if one.cylinder is not None),
        since=first.since_said,
        action=undoing(part),
        step=step,
        step_words=f"{step_number(job, step)} {job.plan.step[step].title}" if step else "",
        overridden=first.overridden or "",
    )


def _count(job: Job) -> int:
    return len({one.item for one in job.path().put_back})


IN_JOB = (Line("To put back", "/put-back", _count),)
PAGES = (Page("/jobs/{number:int}/put-back", show, save),)
