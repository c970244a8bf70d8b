"""Styles in the Styled Layer Descriptor of the Open Geospatial Consortium, so a file opens in its own colours.

Rasters use SLD 1.0.0 (OGC 02-070), whose plain colour map desktop programs read; its 1.1 form, a function, few do.
Vectors use SLD 1.1.0 (OGC 05-078r4) with Symbology Encoding 1.1.0 (OGC 05-077r4).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from xml.sax.saxutils import escape, quoteattr

_HEAD = '<?xml version="1.0" encoding="UTF-8"?>\n'
_SLD = 'xmlns="http://www.opengis.net/sld" xmlns:ogc="http://www.opengis.net/ogc"'
_SE = 'xmlns:se="http://www.opengis.net/se"'


def raster_style(name: str, points: Iterable[tuple[float, str, str]]) -> str:
    """SLD of a raster whose colours run straight between points of (value, label, "#rrggbb")."""
    entries = "".join(
        f'<ColorMapEntry color="{colour}" quantity="{value:.9g}" label={quoteattr(label)}/>\n'
        for value, label, colour in points
    )
    return (
        f'{_HEAD}<StyledLayerDescriptor version="1.0.0" {_SLD}>\n'
        f"<NamedLayer><Name>{escape(name)}</Name><UserStyle><Name>{escape(name)}</Name>"
        f"<FeatureTypeStyle><Rule><RasterSymbolizer><ColorMap>\n{entries}</ColorMap></RasterSymbolizer></Rule>"
        "</FeatureTypeStyle></UserStyle></NamedLayer>\n</StyledLayerDescriptor>\n"
    )


def class_style(name: str, column: str, classes: Mapping[str, str], *, outline: str | None = None) -> str:
    """SLD of polygons filled by the class in `column`: class to "#rrggbb"."""
    rules = "".join(
        f"<se:Rule><se:Name>{escape(value)}</se:Name><ogc:Filter><ogc:PropertyIsEqualTo>"
        f"<ogc:PropertyName>{escape(column)}</ogc:PropertyName><ogc:Literal>{escape(value)}</ogc:Literal>"
        f"</ogc:PropertyIsEqualTo></ogc:Filter>{_polygon(colour, outline)}</se:Rule>\n"
        for value, colour in classes.items()
    )
    return _vector_style(name, rules)


def outline_style(name: str, colour: str, *, width: float = 1.5) -> str:
    """SLD of polygons drawn by their outline. `width` in pixels."""
    return _vector_style(name, f"<se:Rule>{_polygon(None, colour, width)}</se:Rule>\n")


def _vector_style(name: str, rules: str) -> str:
    return (
        f'{_HEAD}<StyledLayerDescriptor version="1.1.0" {_SLD} {_SE}>\n'
        f"<NamedLayer><se:Name>{escape(name)}</se:Name><UserStyle><se:Name>{escape(name)}</se:Name>"
        f"<se:FeatureTypeStyle>\n{rules}</se:FeatureTypeStyle></UserStyle></NamedLayer>\n"
        "</StyledLayerDescriptor>\n"
    )


def _polygon(fill: str | None, outline: str | None, width: float = 0.5) -> str:
    inside = f'<se:Fill><se:SvgParameter name="fill">{fill}</se:SvgParameter></se:Fill>' if fill else ""
    edge = (
        f'<se:Stroke><se:SvgParameter name="stroke">{outline}</se:SvgParameter>'
        f'<se:SvgParameter name="stroke-width">{width:g}</se:SvgParameter></se:Stroke>'
        if outline
        else ""
    )
    return f"<se:PolygonSymbolizer>{inside}{edge}</se:PolygonSymbolizer>"
