"""Headings in other languages of the trade, asked last; a word that also means something else is none of them."""

from __future__ import annotations

from collections.abc import Mapping

OTHER_LANGUAGES: Mapping[str, tuple[str, ...]] = {
    "shot": ("punto", "punkt", "ponto", "pto", "punktnummer", "punktnr", "punkt_nr", "no_punto", "num_punto"),
    "mark": ("punto", "punkt", "ponto", "pto", "punktnummer", "punktnr", "punkt_nr"),
    "northing": ("norte", "nord", "hochwert"),
    "easting": ("este", "est", "leste", "rechtswert"),
    "elevation": ("cota", "quota", "höhe", "hoehe", "elevación", "elevacion"),
    "code": ("código", "codigo", "codice", "descripción", "descripcion", "beschreibung", "descrizione"),
    "note": ("observaciones", "bemerkung", "bemerkungen", "remarque", "remarques"),
    "date": ("fecha",),
    "time": ("hora", "uhrzeit", "heure"),
}
"""Our column to the words that name it where no other word of the header does.

Not among them: "Datum" and "Data", which name other things too, and "Altitude", which may be above the ellipsoid.
"""
