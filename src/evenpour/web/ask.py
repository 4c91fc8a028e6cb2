"""What a page is asked, and how it answers: the one object that every page's function is given."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any

from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from evenpour.job.entries import new_id
from evenpour.web.frame import frame_of
from evenpour.web.preferences import A_YEAR, COOKIE, Preferences, preferences_of
from evenpour.web.problems import Typed
from evenpour.web.rendering import rendered

if TYPE_CHECKING:
    from starlette.datastructures import UploadFile
    from starlette.requests import Request

    from evenpour.job.answers import AddAnswer
    from evenpour.job.entries import Draft
    from evenpour.job.job import Job
    from evenpour.job.shop import Shop
    from evenpour.web.drawing_room import DrawingRoom
    from evenpour.web.sharing import Sharing


class Ask:
    """One request, understood: the shop, the job it names, what was typed, and what this device prefers."""

    def __init__(self, request: Request, form: Mapping[str, str], upload: UploadFile | None = None) -> None:
        self.request = request
        self.form = form
        self.upload = upload if upload is not None and upload.filename else None  # an empty field has no name
        self.query: Mapping[str, str] = request.query_params
        self.shop: Shop = request.app.state.shop
        self.drawing_room: DrawingRoom = request.app.state.drawing_room
        self.sharing: Sharing | None = request.app.state.sharing
        self.at_machine: bool = request.app.state.at_machine

    @cached_property
    def preferences(self) -> Preferences:
        """What this device has chosen."""
        return preferences_of(self.request.cookies)

    @property
    def number(self) -> int:
        """The job's number in the address."""
        return int(self.request.path_params["number"])

    @cached_property
    def job(self) -> Job:
        """The job in the address.

        Raises:
            FieldProblem: there is none of that number.
        """
        return self.shop.open(self.number, self.preferences.units)

    @property
    def in_job(self) -> bool:
        """Whether the address is one of a job."""
        return "number" in self.request.path_params

    def word(self, name: str) -> str:
        """A word in the address: the step of ``/jobs/3/steps/STEP``."""
        return str(self.request.path_params[name])

    def page(self, template: str, page: object, *, title: str, status: int = 200) -> Response:
        """A page of that template; *page* is all that the template may use, with the frame around it."""
        frame = frame_of(
            title,
            self.request.url.path,
            self.job if self.in_job else None,
            self.preferences,
            at_machine=self.at_machine,
        )
        return HTMLResponse(rendered(template, page=page, frame=frame), status_code=status)

    def keep(self, drafts: list[Draft]) -> AddAnswer:
        """Keep entries on the job, as sent; ``sure`` in the form says that odd ones are so."""
        sure = self.form.get("sure") == "yes"
        return self.shop.keep(self.number, drafts, sure=sure, units=self.preferences.units)

    @property
    def entry_id(self) -> str:
        """The id under which the form was sent; one of our own where it has none."""
        return self.form.get("entry_id") or new_id("entry")

    def saved(self, address: str) -> Response:
        """Saved: go there. A page that sends by itself is told the address."""
        if "application/json" in self.request.headers.get("accept", ""):
            response: Response = JSONResponse({"go": address})
        else:
            response = RedirectResponse(address, status_code=303)
        who = self.form.get("who")
        if who and not self.preferences.who:
            self.remember(response, {"who": who})
        return response

    def remember(self, response: Response, said: Mapping[str, Any]) -> None:
        """Put what this device has chosen into its cookie."""
        from evenpour.web.preferences import preferences_from

        now = self.preferences
        kept = preferences_from({"units": now.units or "", "who": now.who, "theme": now.theme, **said})
        response.set_cookie(COOKIE, kept.cookie(), max_age=A_YEAR, httponly=True, samesite="lax")

    def typed(self) -> Typed:
        """What was typed into which form, for a page that shows it again."""
        return Typed(self.form.get("form", ""), self.form)
