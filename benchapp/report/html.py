"""A report as one HTML file: no scripts, nothing fetched, the same bytes for the same report."""

from __future__ import annotations

import base64
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from benchapp.report.document import (
    Caution,
    Document,
    Facts,
    Figure,
    Heading,
    House,
    Paragraph,
    Signature,
    Table,
)
from benchapp.report.svg import FONT, plain, svg_of

__all__ = ["html_of", "logo_kind"]

_STYLE = f"""
@page {{ size: %PAPER%; margin: 16mm 15mm; }}
body {{ font: 14px/1.45 {FONT}; color: #1B1E23; max-width: 820px; margin: 24px auto;
 padding: 0 16px; overflow-wrap: anywhere; }}
header, footer {{ color: #5C626B; font-size: 12px; }}
header img {{ max-height: 56px; max-width: 220px; float: right; }}
h1 {{ font-size: 22px; margin: 8px 0; }} h2 {{ font-size: 16px; margin: 24px 0 6px; }}
table {{ border-collapse: collapse; width: 100%; font-size: 12.5px; }}
thead {{ display: table-header-group; }} tr {{ break-inside: avoid; }}
th, td {{ text-align: left; vertical-align: top; padding: 3px 8px 3px 0; }}
thead th {{ border-bottom: 1.5px solid #1B1E23; }}
tbody td, tbody th {{ border-bottom: 1px solid #E4E2DC; }}
tbody th {{ font-weight: normal; color: #5C626B; width: 32%; }}
.right {{ text-align: right; }} figure {{ margin: 10px 0; break-inside: avoid; }}
figcaption, .small {{ color: #5C626B; font-size: 12px; }}
.good, .bad, .doubt {{ font-weight: bold; font-size: 17px; padding: 8px 12px;
 border-left: 6px solid; }}
.good {{ border-color: #1F7A4D; }} .bad {{ border-color: #9A3324; }}
.doubt {{ border-color: #B35900; }}
.caution {{ border: 1.5px solid #B35900; padding: 8px 12px; }}
.sign {{ display: flex; gap: 32px; break-inside: avoid; }}
.sign div {{ flex: 1; border-top: 1px solid #1B1E23; margin-top: 56px; padding-top: 4px; }}
"""


_RIGHT = ' class="right"'


def html_of(document: Document) -> str:
    """Write a report as the text of an HTML file.

    Every text is escaped: nothing that a file or a person wrote becomes markup.
    """
    house, title, number = document.house, plain(document.title), plain(document.number)
    foot = f"<p>{plain(house.foot)}</p>" if house.foot else ""
    body = "\n".join(_WRITERS[type(block)](block) for block in document.blocks)
    style = _STYLE.replace("%PAPER%", document.paper)
    return (
        f'<!DOCTYPE html>\n<html lang="{plain(document.language)}">\n<head>\n'
        '<meta charset="utf-8">\n'
        '<meta http-equiv="Content-Security-Policy" '
        "content=\"default-src 'none'; style-src 'unsafe-inline'; img-src data:\">\n"
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title} {number}</title>\n<style>{style}</style>\n</head>\n<body>\n"
        f"<header>{_house(house)}<p>{number}</p></header>\n<main>\n<h1>{title}</h1>\n"
        f"{body}\n</main>\n<footer>{foot}<p>{title} {number}</p></footer>\n</body>\n</html>\n"
    )


def logo_kind(logo: bytes) -> str | None:
    """Tell PNG or JPEG by the first bytes; None for anything else.

    Source: ISO/IEC 15948:2004, 5.2 (PNG); ITU-T T.81, B.1.1.3 (JPEG, start of image).
    """
    if logo.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    return "jpeg" if logo.startswith(b"\xff\xd8\xff") else None


def _house(house: House) -> str:
    picture = ""
    if house.logo is not None:
        text = base64.b64encode(house.logo).decode("ascii")
        source = f"data:image/{logo_kind(house.logo)};base64,{text}"
        picture = f'<img alt="{plain(house.name)}" src="{source}">'
    lines = "<br>".join(plain(line) for line in (house.name, *house.lines) if line)
    return f"{picture}<p>{lines}</p>" if lines else picture


def _facts(block: Facts) -> str:
    rows = "".join(
        f'<tr><th scope="row">{plain(name)}</th><td>{plain(value)}</td></tr>\n'
        for name, value in block.rows
    )
    return f"<table><tbody>\n{rows}</tbody></table>"


def _table(block: Table) -> str:
    def cells(row: tuple[str, ...], tag: str) -> str:
        return "".join(
            f"<{tag}{_RIGHT if place in block.right else ''}>{plain(text)}</{tag[:2]}>"
            for place, text in enumerate(row)
        )

    head = cells(block.header, 'th scope="col"')
    rows = "".join(f"<tr>{cells(row, 'td')}</tr>\n" for row in block.rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>\n{rows}</tbody></table>"


def _figure(block: Figure) -> str:
    caption = plain(block.caption)
    return f"<figure>{svg_of(block.scene)}<figcaption>{caption}</figcaption></figure>"


def _signature(block: Signature) -> str:
    places = "".join(
        f"<div>{plain(what)}{': ' if name else ''}{plain(name)}</div>"
        for what, name in block.fields
    )
    return f'<div class="sign">{places}</div>'


_WRITERS: Mapping[type, Callable[[Any], str]] = MappingProxyType(
    {
        Heading: lambda block: f"<h2>{plain(block.text)}</h2>",
        Paragraph: lambda block: f'<p class="{block.tone}">{plain(block.text)}</p>',
        Caution: lambda block: f'<p class="caution">\u26a0 {plain(block.text)}</p>',
        Facts: _facts,
        Table: _table,
        Figure: _figure,
        Signature: _signature,
    }
)
