"""Formatted text to plain text: lines, white space, raised signs, pictures, text that is struck out, right to left."""

from __future__ import annotations

import pytest
from lxml import etree

from reportgen.project.reqif_text import StruckOut, plain_text


def plain(inside: str) -> str:
    return plain_text(etree.fromstring(f'<x:v xmlns:x="v" xmlns="http://www.w3.org/1999/xhtml">{inside}</x:v>'))


@pytest.mark.parametrize(
    ("inside", "text"),
    [
        ("<div>The bond holds <b>10</b>&#160;N.</div>", "The bond holds 10 N."),
        ("<div>\n   wrapped\n   by a tool\n </div>", "wrapped by a tool"),
        ("<div><p>one</p><p>two</p></div>", "one\ntwo"),
        ("<p>one<br/>two<br/><br/>four</p>", "one\ntwo\n\nfour"),
        ("<div>bef<i>or</i>e</div>", "before"),
        ("<div>a <span>b</span> c</div>", "a b c"),
        ("<ul><li>one</li><li>two <ul><li>inner</li></ul></li></ul>", "one\ntwo\ninner"),
        ("<table><tr><th>Size</th><th>Limit</th></tr><tr><td>9</td><td>3 N</td></tr></table>", "Size | Limit\n9 | 3 N"),
        ("<div>10 mm<sup>2</sup></div>", "10 mm²"),
        ("<div>10<sup>-3</sup> Pa, x<sup>a b</sup>, y<sup>k</sup></div>", "10⁻³ Pa, x^(a b), y^k"),
        ("<div>CO<sub>2</sub>, F<sub>max</sub></div>", "CO₂, F_(max)"),
        ('<div>see <object data="fig.png" type="image/png">the sketch</object></div>', "see [the sketch]"),
        ('<div><object data="a.ole"><object data="a.png" type="image/png"/></object></div>', "[a.ole]"),
        ('<div dir="rtl">כוח ≥ <span dir="ltr">5 N</span> \u200fמינימום</div>', "כוח ≥ 5 N \u200fמינימום"),
        ("<pre>a  b\n  c</pre>", "a  b\nc"),
        ("plain words without any element", "plain words without any element"),
        ("<div>a &lt; b &amp; c</div>", "a < b & c"),
        ("<div> <del></del> </div>", ""),
    ],
)  # fmt: skip
def test_what_a_reader_sees_is_kept(inside: str, text: str) -> None:
    assert plain(inside) == text


@pytest.mark.parametrize(
    "inside",
    [
        "<div>10 <del>12</del> N</div>",
        '<div>10 <span style="text-decoration: line-through">12</span> N</div>',
        "<div><s>gone</s></div>",
    ],
)
def test_text_that_is_struck_out_is_not_decided_upon(inside: str) -> None:
    with pytest.raises(StruckOut):
        plain(inside)
