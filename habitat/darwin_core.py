"""The public table of sightings in Darwin Core terms: which terms are let out, and what each holds here.

A term that is not listed is never let out: free text names places, people and hours.
"""

from __future__ import annotations

RELEASED = {
    "occurrenceID": "a number of this table, or a keyed hash; not the identifier that is held",
    "basisOfRecord": "HumanObservation or MachineObservation",
    "scientificName": "the species, where it is a plain name",
    "eventDate": "year or month; never a day or an hour where the category says so",
    "decimalLatitude": "rounded to the nearest step",
    "decimalLongitude": "rounded to the nearest step",
    "geodeticDatum": "EPSG:4326",
    "coordinateUncertaintyInMeters": "half diagonal of the cell plus what the record had; empty where that is unknown",
    "coordinatePrecision": "the step of the released coordinates, in degrees",
    "occurrenceStatus": "detected",
    "individualCount": "animals, where the record says",
    "recordedBy": "a pseudonym from a keyed hash, or empty",
    "dataGeneralizations": "what was done to the place and date, and the precision that is held",
    "informationWithheld": "what is left out; never empty",
    "license": "on which terms the table may be used",
}
_BASES = {"humanobservation": "HumanObservation", "machineobservation": "MachineObservation"}


def plain_basis(text: object) -> str:
    """A basis of record from the vocabulary, "" for anything else.

    Examples
    --------
    >>> plain_basis("human observation"), plain_basis("seen at the jetty")
    ('HumanObservation', '')
    """
    return _BASES.get(str(text).replace(" ", "").lower(), "")


def plain_name(text: object) -> str:
    """A scientific name of one to three words, "" for anything else: a name field may hold a place.

    Examples
    --------
    >>> plain_name("Genus species"), plain_name("Genus sp. near 12.1 S")
    ('Genus species', '')
    """
    words = str(text).split()
    is_name = 1 <= len(words) <= 3 and words[0].istitle() and all(word.isalpha() for word in words)
    return " ".join(words) if is_name and all(word.islower() for word in words[1:]) else ""
