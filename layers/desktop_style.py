"""Styles in the XML that the common open desktop GIS looks for beside a raster and inside a GeoPackage (QML).

That program does not read a Styled Layer Descriptor for a raster, so without these a raster of numbers opens grey.
Only what it needs to colour the file is written; everything else is left at its defaults.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from xml.sax.saxutils import quoteattr

_HEAD = "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n"
_SOLID, _NONE = "solid", "no"


def raster_desktop_style(points: Iterable[tuple[float, str, str]]) -> str:
    """Style of a raster whose colours run straight between points of (value, label, "#rrggbb")."""
    points = list(points)
    items = "".join(
        f'<item value="{value:.9g}" label={quoteattr(label or f"{value:.9g}")} color="{colour}" alpha="255"/>\n'
        for value, label, colour in points
    )
    return (
        f'{_HEAD}<qgis styleCategories="Symbology"><pipe><rasterrenderer type="singlebandpseudocolor" band="1" '
        f'opacity="1" classificationMin="{points[0][0]:.9g}" classificationMax="{points[-1][0]:.9g}"><rastershader>'
        f'<colorrampshader colorRampType="INTERPOLATED" classificationMode="1" clip="0">\n{items}</colorrampshader>'
        "</rastershader></rasterrenderer></pipe></qgis>\n"
    )


def class_desktop_style(column: str, classes: Mapping[str, str], *, outline: str | None = None) -> str:
    """Style of polygons filled by the class in `column`: class to "#rrggbb"."""
    categories = "".join(
        f'<category symbol="{number}" value={quoteattr(value)} label={quoteattr(value)} render="true"/>\n'
        for number, value in enumerate(classes)
    )
    symbols = "".join(_symbol(number, fill, outline, 0.5) for number, fill in enumerate(classes.values()))
    return (
        f'{_HEAD}<qgis styleCategories="Symbology"><renderer-v2 type="categorizedSymbol" attr={quoteattr(column)}>\n'
        f"<categories>\n{categories}</categories>\n<symbols>\n{symbols}</symbols></renderer-v2></qgis>\n"
    )


def outline_desktop_style(colour: str, *, width: float = 1.5) -> str:
    """Style of polygons drawn by their outline. `width` in pixels."""
    return (
        f'{_HEAD}<qgis styleCategories="Symbology"><renderer-v2 type="singleSymbol"><symbols>\n'
        f"{_symbol(0, None, colour, width)}</symbols></renderer-v2></qgis>\n"
    )


def _symbol(number: int, fill: str | None, outline: str | None, width: float) -> str:
    looks = {
        "color": _rgba(fill or "#ffffff"),
        "style": _SOLID if fill else _NONE,
        "outline_color": _rgba(outline or "#000000"),
        "outline_style": _SOLID if outline else _NONE,
        "outline_width": f"{width:g}",
        "outline_width_unit": "Pixel",
    }
    parts = "".join(f'<prop k="{key}" v="{value}"/>' for key, value in looks.items())
    layer = f'<layer class="SimpleFill" enabled="1">{parts}</layer>'
    return f'<symbol type="fill" name="{number}" alpha="1">{layer}</symbol>\n'


def _rgba(colour: str) -> str:
    return ",".join(str(int(colour[k : k + 2], 16)) for k in (1, 3, 5)) + ",255"
