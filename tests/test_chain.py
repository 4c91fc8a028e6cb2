"""The chain of hashes: any change to what was entered shows."""

from __future__ import annotations

import hashlib
from dataclasses import replace

import pytest

from evenpour.job import chain
from evenpour.job.entries import Draft, linked
from evenpour.job.hashes import canonical
from evenpour.job.job_file import read_text
from job_examples import EVERY_KIND

ENTRIES = read_text(EVERY_KIND, "job.toml").entries


def test_canonical_json_sorts_keys_and_spends_no_spaces():
    assert canonical({"b": [1, "µ"], "a": {"d": True, "c": 1.0}}) == '{"a":{"c":1.0,"d":true},"b":[1,"µ"]}'


def test_a_number_that_is_none_has_no_canonical_form():
    with pytest.raises(ValueError, match="JSON"):
        canonical({"a": float("nan")})


def test_the_hash_is_sha_256_over_id_times_kind_content_and_the_hash_before():
    one, two = linked([Draft("note", {"text": "a"}, "n1"), Draft("note", {"text": "b"}, "n2", entered="T")])
    said = '{"at":null,"content":{"text":"a"},"entered":null,"id":"n1","kind":"note","previous":""}'
    assert one.hash == hashlib.sha256(said.encode()).hexdigest()
    assert two.previous == one.hash


def test_an_untouched_chain_holds():
    assert chain.verify(ENTRIES) == ()
    assert chain.head(ENTRIES) == ENTRIES[-1].hash
    assert chain.head([]) == ""


@pytest.mark.parametrize(
    "change",
    [
        {"id": "other"},
        {"at": "2026-05-03T10:12:01+00:00"},
        {"entered": "2026-05-03T10:12:01.000000+00:00"},
        {"kind": "note"},
        {"content": {"what": "system_pressure", "value": "4.9 bar"}},
    ],
    ids=lambda change: next(iter(change)),
)
def test_a_changed_entry_is_named(change):
    changed = [*ENTRIES[:4], replace(ENTRIES[4], **change), *ENTRIES[5:]]
    assert f"entry {changed[4].id!r} is not what was entered" in chain.verify(changed)


def test_an_entry_left_out_or_moved_is_noticed():
    assert chain.verify([*ENTRIES[:4], *ENTRIES[5:]])
    assert chain.verify([*ENTRIES[:4], ENTRIES[5], ENTRIES[4], *ENTRIES[6:]])


def test_an_entry_rehashed_after_a_change_breaks_the_next_link():
    forged = linked([Draft("note", {"text": "forged"}, ENTRIES[0].id)])[0]
    assert any("does not follow" in reason for reason in chain.verify([forged, *ENTRIES[1:]]))


def test_the_order_of_keys_does_not_matter_to_the_hash():
    one = linked([Draft("note", {"text": "a", "who": "AB"}, "n")])
    other = linked([Draft("note", {"who": "AB", "text": "a"}, "n")])
    assert one[0].hash == other[0].hash
