"""What a crew wrote of persons is kept out of what a run hands over, and that is told."""

from collections.abc import Iterator
from typing import Any, TypeVar

from geoqa.model.tables.contacts import CONTACT, LEFT_OUT, file_names, with_contact
from geoqa.model.tables.layer import Layers
from geoqa.model.words import many

Laid = TypeVar("Laid", bound=Layers)
LISTED = 3
"""Places that are told; more are counted."""


def discreet(layers: Laid) -> Laid:
    """Layers whose crew notes with a telephone number or an address are left out, and whose photos bear no folders.

    A note is left out whole: the name beside a number cannot be told from its other words. What a note says of the
    work, such as a measure-down, was read before.
    """
    shots = layers["shots"]
    private = with_contact(shots["note"])
    tables = {"shots": shots.assign(note=shots["note"].mask(private, LEFT_OUT), photo=file_names(shots["photo"]))}
    for name in ("flags", "notes"):
        written = layers[name]["written"]
        tables[name] = layers[name].assign(written=written.mask(with_contact(written), written.map(_masked, "ignore")))
    return type(layers)({**dict(layers), **tables}, frame=layers.frame)


def contacts_left_out(layers: Layers) -> Iterator[dict[str, Any]]:
    """One fact where `discreet` leaves notes out: how many, and where they stand."""
    shots = layers["shots"]
    if len(rows := shots[with_contact(shots["note"])]):
        where = [f"{row.source}, line {row.line}" for row in rows.head(LISTED).itertuples()]
        more = [many(len(rows) - LISTED, "more note")] if len(rows) > LISTED else []
        yield {"note": "contacts-left-out", "count": len(rows), "place": "; ".join(where + more)}


def _masked(text: str) -> str:
    return CONTACT.sub("…", text)
