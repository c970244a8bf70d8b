"""Styles for the common open desktop GIS. The form is common practice, no source: it was opened in one, by hand."""

from xml.etree import ElementTree

from layers.desktop_style import class_desktop_style, outline_desktop_style, raster_desktop_style


def test_a_raster_has_its_points_in_order_with_colour_and_label():
    style = ElementTree.fromstring(raster_desktop_style([(0, "0 m", "#ffffff"), (10.5, "deep & dark", "#001122")]))
    items = [item.attrib for item in style.iter("item")]
    assert [(item["value"], item["label"], item["color"]) for item in items] == [
        ("0", "0 m", "#ffffff"),
        ("10.5", "deep & dark", "#001122"),
    ]
    renderer = style.find("pipe/rasterrenderer").attrib
    assert (renderer["classificationMin"], renderer["classificationMax"]) == ("0", "10.5")


def test_each_class_has_a_symbol_of_its_colour():
    style = ElementTree.fromstring(class_desktop_style("class", {"poor": "#ff0000", "good <best>": "#00ff10"}))
    symbols = {symbol.get("name"): symbol for symbol in style.iter("symbol")}
    colours = {
        category.get("value"): symbols[category.get("symbol")].find("layer/prop[@k='color']").get("v")
        for category in style.iter("category")
    }
    assert colours == {"poor": "255,0,0,255", "good <best>": "0,255,16,255"}
    assert style.find("renderer-v2").get("attr") == "class"


def test_an_outline_leaves_the_inside_open():
    layer = ElementTree.fromstring(outline_desktop_style("#102030")).find("renderer-v2/symbols/symbol/layer")
    looks = {prop.get("k"): prop.get("v") for prop in layer}
    assert (looks["style"], looks["outline_color"]) == ("no", "16,32,48,255")
