"""Children of WordprocessingML elements in the order of the published schema, and a check of a part against it.

Orders of ECMA-376 part 1 (5th edition, transitional), from two sources: the sequences that python-docx records in its
element classes, read from its source; and, for elements it does not describe, written here from memory of the schema.
"""

from __future__ import annotations

import ast
import importlib
import inspect

from lxml import etree

_FROM_PYTHON_DOCX = {
    "docx.oxml.text.parfmt": {"CT_PPr": "pPr"},
    "docx.oxml.text.font": {"CT_RPr": "rPr"},
    "docx.oxml.table": {"CT_TblPr": "tblPr", "CT_TcPr": "tcPr"},
    "docx.oxml.section": {"CT_SectPr": "sectPr"},
    "docx.oxml.styles": {"CT_Style": "style"},
    "docx.oxml.settings": {"CT_Settings": "settings"},
}
_FROM_MEMORY = {
    "sdt": "sdtPr sdtEndPr sdtContent",
    "sdtPr": "rPr alias tag id lock placeholder temporary showingPlcHdr dataBinding label tabIndex text",
    "tbl": "bookmarkStart tblPr tblGrid tr",
    "tr": "tblPrEx trPr tc",
    "p": "pPr *",
    "r": "rPr *",
    "tblBorders": "top left start bottom right end insideH insideV",
    "tcBorders": "top left bottom right insideH insideV tl2br tr2bl",
    "pBdr": "top left bottom right between bar",
    "tblCellMar": "top left start bottom right end",
    "docDefaults": "rPrDefault pPrDefault",
    "styles": "docDefaults latentStyles style",
    "numbering": "numPicBullet abstractNum num numIdMacAtCleanup",
    "abstractNum": "nsid multiLevelType tmpl name styleLink numStyleLink lvl",
    "num": "abstractNumId lvlOverride",
    "lvlOverride": "startOverride lvl",
    "lvl": "start numFmt lvlRestart pStyle isLgl suff lvlText lvlPicBulletId legacy lvlJc pPr rPr",
    "numPr": "ilvl numId",
    "tblStylePr": "pPr rPr tblPr trPr tcPr",
    "inline": "extent effectExtent docPr cNvGraphicFramePr graphic",
    "pic": "nvPicPr blipFill spPr",
    "blipFill": "blip srcRect stretch",
    "spPr": "xfrm prstGeom",
    "document": "background body",
}

# the same short names mean other things elsewhere, such as in a theme
_NAMESPACES = {
    f"http://schemas.openxmlformats.org/{name}"
    for name in ("wordprocessingml/2006/main", "drawingml/2006/wordprocessingDrawing", "drawingml/2006/picture")
}


def schema_orders() -> dict[str, list[str]]:
    orders = {name: text.split() for name, text in _FROM_MEMORY.items()}
    for module, classes in _FROM_PYTHON_DOCX.items():
        tree = ast.parse(inspect.getsource(importlib.import_module(module)))
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and node.name in classes:
                for line in node.body:
                    if isinstance(line, ast.Assign) and getattr(line.targets[0], "id", "") in (
                        "_tag_seq",
                        "_tag_sequence",
                    ):
                        orders[classes[node.name]] = [name.split(":")[1] for name in ast.literal_eval(line.value)]
    # python-docx leaves out the group of references with which the schema lets a section begin
    orders["sectPr"] = ["headerReference", "footerReference", *orders["sectPr"]]
    # the two that word processors added after python-docx wrote its sequence down, at its end in the schema
    orders["tblPr"] += [name for name in ("tblCaption", "tblDescription") if name not in orders["tblPr"]]
    return orders


def out_of_order(part: bytes) -> list[str]:
    """Elements whose children do not follow the schema, or are unknown to it; empty when all is well."""
    orders = schema_orders()
    faults = []
    for element in etree.fromstring(part).iter(etree.Element):
        name = etree.QName(element).localname
        order = orders.get(name)
        if order is None or etree.QName(element).namespace not in _NAMESPACES:
            continue
        children = [etree.QName(child).localname for child in element if isinstance(child.tag, str)]
        places = [order.index(child) if child in order else len(order) if "*" in order else -1 for child in children]
        if -1 in places or places != sorted(places):
            faults.append(f"{name}: {children}")
    return faults
