"""The settings of a document: ours, and those of a company's template that its pages depend on."""

from __future__ import annotations

from lxml import etree

from reportgen.render.word_parts import OFFICE, WORD_TYPE, Parts, parsed
from reportgen.render.word_styles import DECLARATION, NAMESPACES, WORD

_W = f"{{{WORD}}}"
# In the order of the schema, what is taken from a template. All else is left there: protection, tracking, links to
# other files, marks of sessions.
_TAKEN = (
    "zoom", "mirrorMargins", "alignBordersAndEdges", "bordersDoNotSurroundHeader", "bordersDoNotSurroundFooter",
    "gutterAtTop", "defaultTabStop", "autoHyphenation", "consecutiveHyphenLimit", "hyphenationZone",
    "doNotHyphenateCaps", "evenAndOddHeaders", "characterSpacingControl", "footnotePr", "compat", "themeFontLang",
    "clrSchemeMapping", "decimalSymbol", "listSeparator",
)  # fmt: skip
_OURS = {
    "zoom": '<w:zoom w:percent="100"/>',
    "defaultTabStop": '<w:defaultTabStop w:val="567"/>',
    "characterSpacingControl": '<w:characterSpacingControl w:val="doNotCompress"/>',
    "compat": '<w:compat><w:compatSetting w:name="compatibilityMode"'
    ' w:uri="http://schemas.microsoft.com/office/word" w:val="15"/></w:compat>',
    "decimalSymbol": '<w:decimalSymbol w:val="."/>',
    "listSeparator": '<w:listSeparator w:val=","/>',
}
_NOTES = '<w:footnotePr><w:footnote w:id="-1"/><w:footnote w:id="0"/></w:footnotePr>'
_NEVER_THEIRS = ("zoom", "footnotePr", "compat", "themeFontLang")


def settings_xml(theirs: etree._Element | None, *, language: str, footnotes: bool) -> str:
    """`theirs` is the root of a template's settings, if it has any."""
    taken = dict(_OURS)
    for name in () if theirs is None else _TAKEN:
        node = theirs.find(f"{_W}{name}") if theirs is not None and name not in _NEVER_THEIRS else None
        if node is not None:
            taken[name] = f"<w:{name}{_attributes(node)}/>"
    taken["themeFontLang"] = f'<w:themeFontLang w:val="{language}"/>'
    if footnotes:
        taken["footnotePr"] = _NOTES
    body = "".join(taken[name] for name in _TAKEN if name in taken)
    return f"{DECLARATION}<w:settings {NAMESPACES}>{body}</w:settings>"


def write_settings(parts: Parts, *, language: str, footnotes: bool) -> None:
    """Settings of the document in place of those of the template, with what its pages depend on."""
    there = parts.related(parts.main, f"{OFFICE}/settings")
    theirs = parsed(parts.read(there[0])) if there and parts.has(there[0]) else None
    parts.unrelate(parts.main, f"{OFFICE}/settings")
    xml = settings_xml(theirs, language=language, footnotes=footnotes)
    parts.write("word/settings.xml", xml.encode(), content_type=f"{WORD_TYPE}.settings+xml")
    parts.relate(parts.main, f"{OFFICE}/settings", "word/settings.xml")


def _attributes(node: etree._Element) -> str:
    """Attributes of our own namespace, as text: these settings have no others."""
    names = {name.removeprefix(_W): str(value) for name, value in node.attrib.items() if str(name).startswith(_W)}
    return "".join(f' w:{name}="{_quoted(value)}"' for name, value in names.items())


def _quoted(value: str) -> str:
    return value.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
