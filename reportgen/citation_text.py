"""How standards, guidances and their clauses are named in print: as the trade cites them, never by keys of our own."""

from __future__ import annotations

import re

# numbers that are cited with the edition joined to them
_JOINTS = {"ISO": ":", "IEC": ":", "ASTM": "-"}
_BRACKETED = re.compile(r" ?\([^()]*\)")
_DAY = re.compile(r"\b(\d{4})-\d\d-\d\d\b")
_ISSUERS = {"US Food and Drug Administration": "FDA"}
# keys such as `7.8-dates`: the word behind the number is the map's own
_OWN_SUFFIX = re.compile(r"-[a-z][a-z-]*$")
_STANDARD = re.compile(r"^(ISO/IEC|ISO|IEC|EN|ASTM|JCGM)-(?=.*\d)")
_ROMAN = re.compile(r"[IVX]+(\.[A-Z])*")
# topics that begin with the document they are about: what tells them apart stands behind the colon
_DOCUMENTS = frozenset(("Summary", "Protocol", "Report", "Complete report", "Full report"))


def cited(number: str, edition: str) -> str:
    """'ISO 10555-1:2023', 'ASTM F2394-07(2022)', 'Regulation (EU) 2017/745'."""
    joint = _JOINTS.get(number.split(" ")[0].split("/")[0])
    if joint is not None and " " not in edition:
        return f"{number}{joint}{edition}"
    return number if edition in number else f"{number} ({edition})"


def full_name(number: str, edition: str, publisher: str) -> str:
    """As `cited`, behind the issuer of a guidance: 'FDA, Guidance on stents, docket 1 (2010-04-18)'."""
    return f"{_issuer(publisher)}, {cited(number, edition)}" if _is_dated(edition) else cited(number, edition)


def short_name(number: str, edition: str, publisher: str) -> str:
    """For tables and running text: 'ISO 10555-1:2023', 'FDA, Guidance on stents, 2010 with updates of 2015'."""
    if _is_dated(edition):
        years = _DAY.sub(r"\1", edition)
        return f"{_issuer(publisher)}, {without_particulars(number)}, {years}"
    full = cited(number, edition)
    return without_particulars(number) if full.endswith(")") and " (" in full else full


def without_particulars(number: str) -> str:
    """'Stent guidance, dockets FDA-1 and 2' -> 'Stent guidance'; 'ISO 1, ASTM 2' -> 'ISO 1 and others'."""
    first, _, others = _BRACKETED.sub("", number).partition(", ")
    return f"{first} and others" if others and not others.startswith("docket") else first


def _is_dated(edition: str) -> bool:
    """Whether a document is told apart by its day, as guidances are, and not by an edition."""
    return _DAY.match(edition) is not None


def _issuer(publisher: str) -> str:
    return _ISSUERS.get(publisher, publisher)


def clause_number(key: str, *, cited_as: str | None = None, own_keys: bool = False) -> str:
    """'7.8' of '7.8-dates', 'Annex B', 'ISO 5725' of 'ISO-5725'; '' of a key that is a word of the map's own.

    Args: cited_as: what the map says the number is; own_keys: whether it says that none of its keys is a number.
    """
    if cited_as is not None or own_keys:
        return cited_as or ""
    bare = _STANDARD.sub(r"\1 ", _OWN_SUFFIX.sub("", key))
    is_number = any(sign.isdigit() for sign in bare) or _ROMAN.fullmatch(bare) or bare.startswith("Annex ")
    return bare if is_number else ""


def subject(topic: str) -> str:
    """What a clause is about, in few words: 'torque' of 'Torque: turns to failure and failure mode'."""
    head, colon, tail = _BRACKETED.sub("", topic).partition(": ")
    told = (tail if colon and head in _DOCUMENTS else head).partition("; ")[0].strip().rstrip(".")
    is_word = len(told) > 1 and not told[1].isupper()
    return told[:1].lower() + told[1:] if is_word else told


def clause_name(number: str, topic: str) -> str:
    """'Annex B: fatigue of the balloon', 'torque'."""
    return ": ".join(part for part in (number, subject(topic)) if part)
