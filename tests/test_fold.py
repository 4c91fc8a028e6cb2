"""What stands on a job: corrections in sequence, then time."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenpour.errors import UnknownName
from evenpour.job.entries import Draft, Entry, linked
from evenpour.job.fold import fold


def note(name: str, at: str | None = None, text: str = "first") -> Draft:
    return Draft("note", {"text": text}, name, at)


def mended(name: str, of: str, new: dict | None) -> Draft:
    said = {"withdrawn": True} if new is None else {"new": new}
    return Draft("correction", {"of": of, "reason": "because", **said}, name)


def texts(*drafts: Draft) -> dict[str, str]:
    return {one.entry.id: one.content["text"] for one in fold(linked(drafts)).standing}


EARLY, MID, LATE = (f"2026-05-03T{hour}:00:00+02:00" for hour in ("09", "10", "11"))


def test_a_correction_carries_the_whole_new_content():
    first = Draft("note", {"text": "a", "who": "AB"}, "n")
    (one,) = fold(linked([first, mended("c", "n", {"text": "b"})])).standing
    assert one.content == {"text": "b"}
    assert one.entry.content == {"text": "a", "who": "AB"}
    assert one.corrected_by == ("c",)


def test_the_last_correction_in_sequence_wins():
    drafts = [note("n"), mended("c1", "n", {"text": "b"}), mended("c2", "n", {"text": "c"})]
    assert texts(*drafts) == {"n": "c"}


def test_a_withdrawn_entry_stands_no_more_and_is_kept_for_the_record():
    folded = fold(linked([note("n"), mended("c", "n", None)]))
    assert folded.standing == ()
    assert [(one.entry.id, one.by, one.reason) for one in folded.withdrawn] == [("n", "c", "because")]


def test_a_withdrawn_correction_leaves_what_was_before_it():
    drafts = [
        note("n"),
        mended("c1", "n", {"text": "b"}),
        mended("c2", "n", {"text": "c"}),
        mended("c3", "c2", None),
    ]
    assert texts(*drafts) == {"n": "b"}


def test_a_corrected_correction_says_its_new_words_in_its_old_place():
    drafts = [
        note("n"),
        mended("c1", "n", {"text": "b"}),
        mended("c2", "n", {"text": "c"}),
        mended("c3", "c1", {"of": "n", "reason": "r", "new": {"text": "d"}}),
    ]
    assert texts(*drafts) == {"n": "c"}
    assert texts(drafts[0], drafts[1], mended("c3", "c1", drafts[3].content["new"])) == {"n": "d"}


def test_a_correction_may_turn_to_another_entry():
    drafts = [
        note("n"),
        note("m"),
        mended("c1", "n", {"text": "b"}),
        mended("c2", "c1", {"of": "m", "reason": "r", "new": {"text": "b"}}),
    ]
    assert texts(*drafts) == {"n": "first", "m": "b"}


def test_new_content_after_a_withdrawal_stands_again():
    assert texts(note("n"), mended("c1", "n", None), mended("c2", "n", {"text": "b"})) == {"n": "b"}


def test_the_old_time_stays_unless_a_correction_names_another():
    drafts = [note("n", MID), mended("c1", "n", {"text": "b", "at": EARLY}), mended("c2", "n", {"text": "c"})]
    (one,) = fold(linked(drafts)).standing
    assert (one.at, one.content) == (EARLY, {"text": "c"})


def test_an_entry_sent_late_lands_at_its_own_time():
    folded = fold(linked([note("a", LATE), note("b", EARLY), note("c", MID)]))
    assert [one.entry.id for one in folded.standing] == ["b", "c", "a"]
    assert [one.rank for one in folded.standing] == [0, 1, 2]


def test_times_in_different_offsets_are_ordered_as_moments():
    folded = fold(linked([note("a", "2026-05-03T10:00:00+02:00"), note("b", "2026-05-03T09:00:00+00:00")]))
    assert [one.entry.id for one in folded.standing] == ["a", "b"]


def test_equal_times_keep_the_order_of_arrival():
    folded = fold(linked([note("a", MID), note("b", MID), note("c", "2026-05-03T08:00:00+00:00")]))
    assert [one.entry.id for one in folded.standing] == ["a", "b", "c"]


def test_an_entry_without_a_time_stands_behind_the_one_before_it():
    folded = fold(linked([note("a"), note("b", LATE), note("c"), note("d", EARLY), note("e")]))
    assert [one.entry.id for one in folded.standing] == ["a", "d", "e", "b", "c"]


def test_withdrawing_one_entry_moves_no_other():
    drafts = [note("a", EARLY), note("b", LATE), note("c"), note("d", MID)]
    before = [one.entry.id for one in fold(linked(drafts)).standing]
    after = [one.entry.id for one in fold(linked([*drafts, mended("w", "b", None)])).standing]
    assert after == [name for name in before if name != "b"]


def test_a_correction_of_nothing_is_refused():
    with pytest.raises(UnknownName, match="Did you mean note-1"):
        fold(linked([note("note-1"), mended("c", "note-2", None)]))


def slow_now(entries: list[Entry], of: str) -> tuple[dict | None, str | None]:
    """Content and time of one entry; ``None`` for content if it is withdrawn."""
    entry = next(one for one in entries if one.id == of)
    content, at, stands = dict(entry.content), entry.at, True
    for correction in entries:
        if correction.kind != "correction" or correction.seq <= entry.seq:
            continue
        said, _ = slow_now(entries, correction.id)
        if said is None or said["of"] != of:
            continue
        stands = not said.get("withdrawn")
        if stands:
            content = {name: value for name, value in said["new"].items() if name != "at"}
            at = said["new"].get("at", at)
    return (content if stands else None), at


def slow_fold(entries: list[Entry]) -> list[tuple[str, dict, str | None]]:
    entries = sorted(entries, key=lambda entry: entry.seq)
    found, reached = [], datetime.fromisoformat("0001-01-02T00:00:00+00:00")
    for entry in entries:
        if entry.kind == "correction":
            continue
        content, at = slow_now(entries, entry.id)
        reached = datetime.fromisoformat(at) if at else reached
        found.append((reached, entry.seq, entry.id, content, at))
    return [
        (name, content, at)
        for _, _, name, content, at in sorted(found, key=lambda one: one[:2])
        if content is not None
    ]


@st.composite
def journals(draw):
    times = st.none() | st.sampled_from([EARLY, MID, LATE, "2026-05-03T08:30:00+00:00"])
    drafts: list[Draft] = []
    for count in range(draw(st.integers(1, 9))):
        name = f"e{count}"
        if not drafts or draw(st.booleans()):
            drafts.append(note(name, draw(times), f"text {count}"))
        else:
            of = draw(st.integers(0, len(drafts) - 1))
            drafts.append(mended(name, f"e{of}", new_content(draw, drafts, of, count, times)))
    return linked(drafts)


def new_content(draw, drafts, of, count, times):
    if draw(st.integers(0, 3)) == 0:
        return None
    if drafts[of].kind == "note":
        at = draw(times)
        return {"text": f"text {count}"} | ({"at": at} if at else {})
    deeper = draw(st.integers(0, of - 1))
    inner = new_content(draw, drafts, deeper, count, times)
    return {"of": f"e{deeper}", "reason": "r"} | ({"withdrawn": True} if inner is None else {"new": inner})


@given(journals())
def test_fold_is_the_slow_plain_reading_of_the_rule(entries):
    folded = fold(entries)
    assert [(one.entry.id, dict(one.content), one.at) for one in folded.standing] == slow_fold(list(entries))
    known = {one.entry.id for one in folded.standing} | {one.entry.id for one in folded.withdrawn}
    assert known | {entry.id for entry in entries if entry.kind == "correction"} == {
        entry.id for entry in entries
    }


@given(journals(), st.randoms(use_true_random=False))
def test_the_order_in_which_entries_are_handed_over_does_not_matter(entries, random):
    shuffled = list(entries)
    random.shuffle(shuffled)
    assert fold(shuffled) == fold(entries)


@given(st.permutations([note(f"n{hour}", f"2026-05-03T{hour:02}:00:00+00:00") for hour in range(6, 13)]))
def test_entries_of_different_times_come_to_the_same_however_they_were_sent(sent):
    standing = fold(linked(sent)).standing
    assert [one.entry.id for one in standing] == [f"n{hour}" for hour in range(6, 13)]
