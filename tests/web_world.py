"""The pages over a store of their own, asked as a browser without scripts would ask them."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest
import uvicorn

from evenpour.job.demo import demo_entries
from evenpour.job.entries import Draft
from evenpour.job.opening import stored_job
from evenpour.job.shop import Shop
from evenpour.job.store import Store
from evenpour.web.app import app_for
from evenpour.web.serving import bound


@dataclass
class Form:
    """A form of a page: where it goes, and what stands in its fields."""

    action: str
    method: str
    fields: dict[str, str] = field(default_factory=dict)
    choices: dict[str, list[str]] = field(default_factory=dict)


class Html(HTMLParser):
    """A page's text, links, ids and forms."""

    VOID = frozenset({"input", "br", "meta", "link", "img", "use", "path", "rect", "line", "hr"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.source = text
        self.words: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.forms: list[Form] = []
        self.main: list[str] = []
        self._open: list[str] = []
        self._select = ""
        self._area = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag not in self.VOID:
            self._open.append(tag)
        if said.get("id"):
            self.ids.append(said["id"])
        if tag == "a" and "href" in said:
            self.links.append(said["href"])
        if tag == "form":
            self.forms.append(Form(said.get("action", ""), said.get("method", "get")))
        if self.forms and "form" in self._open:
            self._field(tag, said)

    def _field(self, tag: str, said: dict[str, str]) -> None:
        form, name = self.forms[-1], said.get("name", "")
        if tag == "input" and name:
            if said.get("type") in ("radio", "checkbox"):
                form.choices.setdefault(name, []).append(said.get("value", "on"))
                if "checked" in said:
                    form.fields[name] = said.get("value", "on")
            else:
                form.fields[name] = said.get("value", "")
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select:
            value = said.get("value", "")
            first = self._select not in form.choices
            form.choices.setdefault(self._select, []).append(value)
            if "selected" in said or first:
                form.fields[self._select] = value
        elif tag == "textarea":
            self._area = name
            form.fields[name] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag in self._open:
            while self._open.pop() != tag:
                pass
        if tag == "select":
            self._select = ""
        if tag == "textarea":
            self._area = ""

    def handle_data(self, data: str) -> None:
        if self._area and self.forms:
            self.forms[-1].fields[self._area] += data
        if "script" in self._open or "style" in self._open:
            return
        self.words.append(data)
        if "main" in self._open:
            self.main.append(data)

    @property
    def text(self) -> str:
        """What a person reads in the page itself, blanks made one."""
        return " ".join("".join(self.main).split())

    def form(self, name: str) -> Form:
        """The form of that name, as the page says it in its hidden field."""
        return next(one for one in self.forms if one.fields.get("form") == name)


@dataclass
class Page:
    """An answer: its status, its headers, and the page as read."""

    status: int
    address: str
    headers: httpx.Headers
    html: Html

    @property
    def text(self) -> str:
        return self.html.text


class Pages:
    """A browser without scripts at the pages of one shop."""

    def __init__(self, address: str, store: Store) -> None:
        self.address = address
        self.store = store
        self.client = httpx.Client(base_url=address, headers={"origin": address.rstrip("/")}, timeout=30.0)

    def __enter__(self) -> Pages:
        return self

    def __exit__(self, *_: object) -> None:
        self.client.close()

    def get(self, path: str) -> Page:
        """A page, after its redirects."""
        return _page(self.client.get(path, follow_redirects=True))

    def send(self, path: str, form: str, *, follow: bool = True, **typed: str) -> Page:
        """Load the page, fill in one of its forms, send it; ``__`` in a field's name is a dot."""
        found = self.get(path).html.form(form)
        fields = dict(found.fields)
        for name, value in typed.items():
            known = name.replace("__", ".").replace("_unit", "-unit") if "__" in name else name
            known = known.replace("_way", "-way").replace("_whole", "-whole").replace("_part", "-part")
            if known not in fields and known not in found.choices:
                raise AssertionError(
                    f"{form} has no field {known}; it has {sorted({*fields, *found.choices})}"
                )
            options = found.choices.get(known)
            assert options is None or value in options, f"{known} offers {options}, not {value!r}"
            fields[known] = value
        return _page(self.client.post(found.action, data=fields, follow_redirects=follow))

    def begin(
        self, entries: int | str | None = None, *, sheet: str = "flat-six", warned: bool = False
    ) -> str:
        """A job's address: a new one, or the demo job up to an entry (by its id); *warned*: with every
        caution read.
        """
        if warned:
            job = self.begin(entries, sheet=sheet)
            number = int(job.rpartition("/")[2])
            for caution in sorted(stored_job(self.store, number).plan.cautions):
                self.store.append(number, "caution", {"id": caution, "who": "Ines"})
            return job
        if entries is None:
            return f"/jobs/{self.store.new_job({'sheet': sheet, 'car': 'Blue estate'})}"
        told = demo_entries()
        end = next(place for place, one in enumerate(told, 1) if one.id == entries) if entries else len(told)
        drafts = [Draft(one.kind, one.content, one.id, one.at) for one in told[:end]]
        return f"/jobs/{self.store.import_job(drafts)}"

    def entries(self, job: str) -> list[tuple[str, dict[str, object]]]:
        """Kind and content of every entry of a job."""
        return [(one.kind, dict(one.content)) for one in self.store.entries(int(job.rpartition("/")[2]))]


def _page(answer: httpx.Response) -> Page:
    return Page(answer.status_code, str(answer.url), answer.headers, Html(answer.text))


@contextmanager
def served(store: Store, port: int = 0) -> Iterator[str]:
    """The pages of a store, served in a thread; their address."""
    opened = bound(port)
    config = uvicorn.Config(app_for(Shop(store)), log_level="warning", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [opened]}, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{opened.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)
        opened.close()


@pytest.fixture(scope="module")
def shop_pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Pages]:
    """The pages of an empty shop, one for a whole test module: each test begins jobs of its own."""
    folder: Path = tmp_path_factory.mktemp("shop")
    with Store(folder / "jobs.db") as store, served(store) as address, Pages(address, store) as opened:
        yield opened


@pytest.fixture
def pages(shop_pages: Pages) -> Pages:
    """The pages as a device meets them that has chosen nothing yet."""
    shop_pages.client.cookies.clear()
    return shop_pages
