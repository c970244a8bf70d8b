"""The look of the pages: system fonts, quiet colours, one column on a small screen. Nothing is fetched."""

from __future__ import annotations

import panel as pn
from markupsafe import Markup

from habitat.colours import INK, LAND, MUTED_INK, NO_DATA, NO_DATA_HATCH

ACCENT = "#0b5668"
PAPER = "#f6f4ef"
LINE = "#dad5ca"

TEXT_CSS = f"""
:host {{ color: {INK}; font: 16px/1.5 system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", sans-serif; }}
.bk-clearfix {{ display: block; width: 100%; min-width: 0; }}
h1, h2, h3 {{ font-family: "Iowan Old Style", "Palatino Linotype", Palatino, "Noto Serif", Georgia, serif;
  font-weight: 600; line-height: 1.2; margin: 0; text-wrap: balance; }}
h1 {{ font-size: clamp(1.8rem, 4vw, 2.5rem); letter-spacing: -0.01em; }}
h2 {{ font-size: 1.3rem; }}
h3 {{ font-size: 1.05rem; }}
p {{ margin: 0.35rem 0 0; max-width: 68ch; text-wrap: pretty; }}
a {{ color: {ACCENT}; text-underline-offset: 0.2em; }}
a:focus-visible, summary:focus-visible {{ outline: 3px solid {ACCENT}; outline-offset: 3px; border-radius: 3px; }}
.quiet {{ color: {MUTED_INK}; font-size: 0.9rem; }}
.figure {{ font-variant-numeric: tabular-nums; }}
.badge {{ display: inline-block; background: {INK}; color: #fff; font-size: 0.8rem; font-weight: 600;
  letter-spacing: 0.03em; padding: 0.15rem 0.7rem; border-radius: 999px; vertical-align: middle; }}
table {{ border-collapse: collapse; width: 100%; font-size: 0.9rem; font-variant-numeric: tabular-nums; }}
th {{ text-align: left; font-weight: 600; color: {MUTED_INK}; font-size: 0.82rem; padding: 0.3rem 0.8rem 0.3rem 0;
  border-bottom: 1px solid {LINE}; vertical-align: bottom; }}
td {{ padding: 0.4rem 0.8rem 0.4rem 0; border-bottom: 1px solid {LINE}; vertical-align: top; }}
td.number, th.number {{ text-align: right; white-space: nowrap; }}
code {{ font-size: 0.85em; background: {PAPER}; padding: 0.1em 0.35em; border-radius: 4px; white-space: nowrap; }}
pre {{ background: {PAPER}; padding: 0.9rem 1rem; border-radius: 8px; overflow-x: auto; font-size: 0.85rem; }}
.step {{ display: inline-grid; place-items: center; width: 1.65em; height: 1.65em; border-radius: 50%;
  background: {ACCENT}; color: #fff; font: 600 0.72em/1 system-ui, sans-serif; margin-right: 0.35em;
  vertical-align: 0.12em; }}
.hatch {{ background: repeating-linear-gradient(135deg, {NO_DATA} 0 4px, {NO_DATA_HATCH} 4px 5px); }}
.land {{ background: {LAND}; }}
"""

GRID_CSS = """
:host {{ display: grid !important; grid-template-columns: repeat({fit}, minmax(min(100%, {least}px), 1fr));
  gap: {gap}px; align-items: {align}; }}
:host > * {{ min-width: 0; align-self: {align}; height: auto; }}
.scroll-button {{ display: none; }}
"""

CARD_CSS = f"""
:host {{ background: #fff; border: 1px solid {LINE}; border-radius: 14px; padding: 20px 20px 16px; }}
.scroll-button {{ display: none; }}
"""

PAGE_CSS = """
:host { max-width: 1240px; margin: 0 auto !important; padding: 20px clamp(14px, 2.5vw, 32px) 64px;
  box-sizing: border-box; }
.scroll-button { display: none; }
"""

WIDGET_CSS = f"""
:host {{ font-family: system-ui, -apple-system, "Segoe UI", Roboto, "Noto Sans", sans-serif; }}
label, .bk-slider-title {{ color: {MUTED_INK}; font-size: 0.88rem; font-weight: 600; }}
.bk-input {{ font: inherit; font-size: 0.98rem; border-radius: 8px; border-color: #8b8f8c; min-height: 42px;
  color: {INK}; background-color: #fff; }}
.bk-input:focus-visible, .noUi-handle:focus-visible, button:focus-visible {{ outline: 3px solid {ACCENT} !important;
  outline-offset: 2px; }}
.bk-btn {{ font: inherit; font-size: 0.95rem; border-radius: 8px !important; min-height: 42px; }}
.noUi-connect {{ background: {ACCENT} !important; }}
"""

_HEAD = f"""
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
  html {{ background: {PAPER}; color-scheme: light; }}
</style>
<script>
  // names for the parts that the widget library leaves unnamed to a screen reader
  const headingIn = (root) => {{
    for (const part of root.querySelectorAll("*")) {{
      if (part.matches("h2")) return part.textContent;
      const found = part.shadowRoot && headingIn(part.shadowRoot);
      if (found) return found;
    }}
  }};
  const headingOver = (part) => {{
    for (let host = part.getRootNode().host; host; host = host.getRootNode().host) {{
      const found = headingIn(host.shadowRoot);
      if (found) return found;
    }}
    return "";
  }};
  const kindOf = (part) => {{
    for (let host = part.getRootNode().host; host; host = host.getRootNode().host)
      if (host.classList.contains("chart")) return "Chart";
    return "Map";
  }};
  const nameParts = (root) => {{
    for (const part of root.querySelectorAll("*")) {{
      if (part.shadowRoot) nameParts(part.shadowRoot);
      if (part.matches(".noUi-handle:not([aria-label])")) {{
        const title = part.getRootNode().querySelector(".bk-slider-title");
        if (title) part.setAttribute("aria-label", title.textContent.split(":")[0]);
      }}
      if (part.matches(".bk-events:not([aria-label])")) {{
        part.setAttribute("role", "img");
        part.setAttribute("aria-label", kindOf(part) + ": " + headingOver(part));
      }}
      if (part.matches(".bk-spin-btn:not([aria-label])"))
        part.setAttribute("aria-label", part.matches(".bk-spin-btn-up") ? "One step more" : "One step less");
      if (part.matches(".bk-tool-icon, .bk-ToolButton, [class*=tool-button]") && part.title)
        part.setAttribute("aria-label", part.title);
    }}
  }};
  setInterval(() => nameParts(document), 1500);
</script>
"""


def dress_document() -> None:
    """Give the served page its language, its width on a small screen and its paper."""
    from panel.io.resources import BASE_TEMPLATE

    document = pn.state.curdoc
    if document is not None:
        template = BASE_TEMPLATE.environment.from_string(
            "{% extends 'base.html' %}{% block postamble %}" + _HEAD + "{% endblock %}"
        )
        document.template = template
        document.template_variables.update(app_favicon="", apple_icon="", favicon="")


def text(content: object, *, css: str = "") -> pn.widgets.StaticText:
    """A piece of text in the look of the pages.

    Parameters
    ----------
    content : Markup, str or a bound function that gives one
        Plain strings are escaped; `Markup` is taken as it is. What a bound function gives is taken as it is.
    css : str
        Style of this piece alone.
    """
    # the piece must be handed plain text: `Markup` would escape itself once more on its way to the browser
    shown = str(Markup.escape(content)) if isinstance(content, str) else pn.bind(str, content)
    # not a pane: that sends its styles again with every change, and in JupyterLab asks another host for them
    return pn.widgets.StaticText(value=shown, stylesheets=[TEXT_CSS, css], margin=0, sizing_mode="stretch_width")


def grid(*parts, least: int = 330, gap: int = 20, align: str = "stretch", fit: str = "auto-fit") -> pn.Column:
    """Parts side by side while each keeps `least` pixels, otherwise under one another.

    `fit` is the CSS word: "auto-fit" spreads few parts over the whole width, "auto-fill" leaves the rest empty.
    """
    css = GRID_CSS.format(least=least, gap=gap, align=align, fit=fit)
    return pn.Column(*parts, stylesheets=[css], sizing_mode="stretch_width", margin=0)


def card(*parts, gap: int = 10, css: str = "") -> pn.Column:
    """Parts that belong together, on a white sheet; `css` is the style of this sheet alone."""
    css = CARD_CSS + f":host {{ gap: {gap}px; }}" + css
    return pn.Column(*parts, stylesheets=[css], sizing_mode="stretch_width", margin=0)


def stack(*parts, gap: int = 20) -> pn.Column:
    """Parts under one another."""
    css = f":host {{ gap: {gap}px; }} .scroll-button {{ display: none; }}"
    return pn.Column(*parts, stylesheets=[css], sizing_mode="stretch_width", margin=0)


def page(*parts) -> pn.Column:
    """A whole page."""
    return pn.Column(*parts, stylesheets=[PAGE_CSS, ":host { gap: 22px; }"], sizing_mode="stretch_width", margin=0)
