"""The record as PDF: readable aloud, complete, and the same bytes each time."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pypdf
import pytest
from pypdf.generic import DictionaryObject

import record_samples as samples
from evenpour.record.content import record_of
from evenpour.record.pdf import pdf_of


@pytest.fixture(scope="module")
def made() -> dict[str, bytes]:
    return {kind: pdf_of(record_of(make())) for kind, make in samples.KINDS.items()}


def reader(content: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(content))


def page_text(content: bytes, page: int) -> str:
    return " ".join(reader(content).pages[page].extract_text().replace("\u00a0", " ").split())


def whole_text(content: bytes) -> str:
    return " ".join(page_text(content, number) for number in range(len(reader(content).pages)))


def elements(node: object) -> Iterator[DictionaryObject]:
    """The tree of tags, from its root."""
    if isinstance(node, pypdf.generic.IndirectObject):
        node = node.get_object()
    if isinstance(node, list):
        for kid in node:
            yield from elements(kid)
    elif isinstance(node, DictionaryObject):
        yield node
        yield from elements(node.get("/K"))


def tags(content: bytes) -> list[DictionaryObject]:
    return list(elements(reader(content).root_object["/StructTreeRoot"]))


@pytest.mark.parametrize("kind", samples.KINDS)
def test_the_pdf_is_tagged_and_names_title_and_language(made: dict[str, bytes], kind: str) -> None:
    pdf = reader(made[kind])
    root = pdf.root_object
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"] == "en-GB"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert pdf.metadata is not None
    assert "Record of work: " in str(pdf.metadata.title)
    assert b"pdfuaid" in root["/Metadata"].get_data()


def test_every_drawing_has_words_for_those_who_cannot_see_it(made: dict[str, bytes]) -> None:
    figures = [tag for tag in tags(made["overridden"]) if tag.get("/S") == "/Figure"]
    assert len(figures) == 3
    assert all("ml/min" in str(figure["/Alt"]) for figure in figures)


def test_tables_have_heading_cells(made: dict[str, bytes]) -> None:
    kinds = [tag.get("/S") for tag in tags(made["good"])]
    assert kinds.count("/Table") > 8
    assert kinds.count("/TH") > 3 * kinds.count("/Table") - 5


@pytest.mark.parametrize(
    ("kind", "loud"), [("unfinished", "Not finished"), ("overridden", "Handed over with overrides")]
)
def test_what_is_not_as_it_should_be_stands_on_page_one(made: dict[str, bytes], kind: str, loud: str) -> None:
    first = page_text(made[kind], 0)
    assert loud in first
    assert "In short" in first
    assert "1 Stages and proofs" in page_text(made[kind], 1)[:120]


def test_the_summary_is_one_page_however_much_there_is_to_say() -> None:
    job = samples.unfinished()
    job.passed = samples.overridden().passed * 8
    hot = samples.overridden().judged.readings[-1]
    readings = [hot.model_copy(update={"cylinder": cylinder}) for cylinder in range(1, 9)]
    job.judged = job.judged.model_copy(update={"readings": readings})
    long = "the pressure that holds after the stop is unproved since the accumulator was taken off " * 3
    job.pathed = job.pathed.model_copy(
        update={"outside": ["System pressure, hot"] * 8, "may_close": [long] * 9}
    )
    content = pdf_of(record_of(job))
    assert "In short" in page_text(content, 0)
    assert "1 Stages and proofs" in page_text(content, 1)[:120]


@pytest.mark.parametrize("kind", samples.KINDS)
def test_the_pdf_holds_every_readings_value_and_verdict(made: dict[str, bytes], kind: str) -> None:
    text = whole_text(made[kind])
    for reading in samples.KINDS[kind]().judged.readings:
        assert reading.shown in text
    assert text.count("over 99 % sure") >= 1
    assert samples.NOTICE in text
    assert samples.HEAD in text.replace(" ", "")


def test_the_signs_of_the_trade_survive(made: dict[str, bytes]) -> None:
    text = whole_text(made["good"])
    for sign in ("±", "≤", "µ", "Ω", "λ", "°C", "−"):
        assert sign in text


def test_only_the_fonts_of_the_package_are_used(made: dict[str, bytes]) -> None:
    fonts = {
        str(font.get_object()["/BaseFont"]).rpartition("+")[2]
        for page in reader(made["overridden"]).pages
        for font in page["/Resources"].get("/Font", {}).values()
    }
    assert fonts == {"Inter-Regular", "Inter-Bold"}


def test_the_same_job_gives_the_same_bytes(made: dict[str, bytes]) -> None:
    assert pdf_of(record_of(samples.overridden())) == made["overridden"]


def test_the_pdf_is_dated_with_the_jobs_last_moment(made: dict[str, bytes]) -> None:
    metadata = reader(made["good"]).metadata
    assert metadata is not None
    assert str(metadata.creation_date_raw).startswith("D:20260505143000")
