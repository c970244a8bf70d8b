import xml.etree.ElementTree as ElementTree

from layers.style import class_style, outline_style, raster_style

NAMESPACES = {"sld": "http://www.opengis.net/sld", "se": "http://www.opengis.net/se"}


def test_a_raster_style_is_a_colour_map_of_sld_1_0():
    style = ElementTree.fromstring(
        raster_style("depth", [(0, "0 m", "#ffffff"), (2.5, '"deep" & dark', "#000080")]).encode()
    )
    assert style.get("version") == "1.0.0"
    path = "NamedLayer/UserStyle/FeatureTypeStyle/Rule/RasterSymbolizer/ColorMap/ColorMapEntry".split("/")
    entries = style.findall("/".join(f"sld:{step}" for step in path), NAMESPACES)
    assert [entry.attrib for entry in entries] == [
        {"color": "#ffffff", "quantity": "0", "label": "0 m"},
        {"color": "#000080", "quantity": "2.5", "label": '"deep" & dark'},
    ]


def test_an_outline_style_fills_nothing():
    style = ElementTree.fromstring(outline_style("zones", "#1d2529", width=2).encode())
    assert style.find(".//se:Fill", NAMESPACES) is None
    assert [part.text for part in style.findall(".//se:Stroke/se:SvgParameter", NAMESPACES)] == ["#1d2529", "2"]


def test_a_class_style_has_a_rule_for_each_class():
    style = ElementTree.fromstring(class_style("c", "class", {"a<b": "#010203"}, outline="#000000").encode())
    assert [rule.findtext("se:Name", None, NAMESPACES) for rule in style.findall(".//se:Rule", NAMESPACES)] == ["a<b"]
