"""Printing where the terminal or the pipe cannot show every sign: the nearest plain sign, never a traceback."""

from __future__ import annotations

import codecs
import sys

# a minus sign must stay one whatever becomes of the rest
_PLAINER = {
    "\N{MINUS SIGN}": "-",
    "\N{EN DASH}": "-",
    "\N{NO-BREAK SPACE}": " ",
    "\N{NARROW NO-BREAK SPACE}": " ",
    "\N{MULTIPLICATION SIGN}": "x",
    "\N{PLUS-MINUS SIGN}": "+/-",
    "\N{LESS-THAN OR EQUAL TO}": "<=",
    "\N{GREATER-THAN OR EQUAL TO}": ">=",
    "\N{MIDDLE DOT}": ".",
    "\N{DEGREE SIGN}": "deg ",
    "\N{MICRO SIGN}": "u",
    "\N{GREEK SMALL LETTER MU}": "u",
    "\N{HEAVY CHECK MARK}": "+",
    "\N{HEAVY MULTIPLICATION X}": "x",
    "\N{CIRCLE WITH LEFT HALF BLACK}": "~",
    "\N{WHITE CIRCLE}": "o",
}
_NAME = "reportgen-plainer"


def print_on_any_terminal() -> None:
    """From here on, both streams write what their encoding lacks as plainer signs, or as \\uXXXX, which JSON reads."""
    codecs.register_error(_NAME, _plainer)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors=_NAME)


def _plainer(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    return "".join(_PLAINER.get(sign) or _escaped(sign) for sign in signs), error.end


def _escaped(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at]:02x}{units[at + 1]:02x}" for at in range(0, len(units), 2))
