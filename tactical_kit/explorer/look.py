"""The style sheets of the explorer: paper, ink, one rule a widget; they live in the shadow roots of Bokeh."""

from __future__ import annotations

from bokeh.models import InlineStyleSheet

from tactical_kit.scenes import style

__all__ = ["FONT", "Look"]

FONT = "'DejaVu Sans', 'Helvetica Neue', Arial, sans-serif"
_LINE = style.mix(style.INK, style.PAPER, 0.72)
_PRESSED = style.INK

_WIDGETS = f"""
:host {{ font-family: {FONT}; font-size: 13px; color: {style.INK}; --font-size: 13px; }}
.bk-btn, .bk-btn-default {{
  background: {style.PAPER}; color: {style.INK}; border: 1px solid {_LINE}; border-radius: 2px;
  font: 13px {FONT}; padding: 4px 8px; box-shadow: none; min-height: 28px;
}}
.bk-btn-group {{ flex-wrap: wrap; }}
.bk-btn:hover {{ background: #efe8d8; }}
.bk-btn.bk-active, .bk-btn-default.bk-active {{
  background: {_PRESSED}; color: {style.PAPER}; border-color: {_PRESSED}; box-shadow: none;
}}
.bk-btn:focus-visible, .bk-input:focus-visible, input:focus-visible, select:focus-visible {{
  outline: 2px solid {style.INK}; outline-offset: 1px; position: relative; z-index: 1;
}}
.bk-btn[disabled], .bk-btn.bk-disabled {{ opacity: 0.45; }}
.bk-input, select.bk-input, .choices__inner {{
  background: #fffdf7; color: {style.INK}; border: 1px solid {_LINE}; border-radius: 2px; font: 13px {FONT};
}}
.choices__inner {{ min-height: 30px; }}
.choices__list--multiple .choices__item, .choices__list--multiple .choices__item[data-deletable] {{
  background: {style.INK}; border-color: {style.INK}; color: {style.PAPER}; font-size: 12px; border-radius: 2px;
}}
label, input, select, button, span {{ font-family: {FONT} !important; font-size: 13px; }}
input[type="checkbox"] {{ accent-color: {style.INK}; width: 15px; height: 15px; vertical-align: -2px; }}
.bk-input-group > label, .bk-input-group label {{ color: {style.INK}; white-space: normal; }}
.choices:focus-within .choices__inner {{ outline: 2px solid {style.INK}; outline-offset: 1px; }}
label.tk-none > span {{ color: {style.FAINT}; }}
span.tk-count {{ color: {style.FAINT}; font-size: 12px; font-variant-numeric: tabular-nums; padding-left: 3px; }}
"""

_LIST = """
.bk-btn-group { display: flex; flex-direction: column; width: 100%; }
.bk-btn-group > .bk-btn {
  text-align: left; justify-content: flex-start; white-space: nowrap; overflow: hidden; text-overflow: ellipsis;
  border-width: 0 0 1px 0; border-radius: 0; padding: 5px 6px; font-variant-numeric: tabular-nums;
  margin: 0; width: 100%; display: block;
}
"""

_WRAP = """
:host { flex-wrap: wrap; row-gap: 4px; column-gap: 6px; align-items: center; }
"""

_OUTER = f"""
:host {{ container-type: inline-size; background: {style.PAPER}; width: 100%; }}
"""

# One page: a wide one has the filters beside the charts, a narrow one everything in one column.
_PAGE = f"""
:host {{
  display: grid !important; box-sizing: border-box; width: 100%; background: {style.PAPER}; color: {style.INK};
  grid-template-columns: 272px minmax(0, 1fr) minmax(0, 1fr); column-gap: 22px; row-gap: 12px; padding: 14px 18px;
  grid-template-areas: "head head head" "line line line" "picks picks picks" "said said said"
    "side move net" "side prog pres" "list prog pres" "foot foot foot";
  align-items: start; grid-template-rows: repeat(6, auto) 1fr auto;
}}
.tk-head {{ grid-area: head; }}
.tk-line {{ grid-area: line; }}
.tk-picks {{ grid-area: picks; }}
.tk-said {{ grid-area: said; }}
.tk-side {{ grid-area: side; }}
.tk-fold {{ display: none; grid-area: fold; }}
.tk-moments {{ grid-area: list; }}
.tk-move {{ grid-area: move; }}
.tk-net {{ grid-area: net; }}
.tk-prog {{ grid-area: prog; }}
.tk-pres {{ grid-area: pres; }}
.tk-foot {{ grid-area: foot; }}
:host > * {{ min-width: 0; }}
@container (max-width: 1040px) {{
  :host {{
    grid-template-columns: minmax(0, 1fr); padding: 10px 12px;
    grid-template-areas: "head" "line" "picks" "said" "fold" "side" "move" "list" "net" "prog" "pres" "foot";
    grid-template-rows: none;
  }}
  .tk-fold {{ display: flex; }}
}}
"""

# The filters: one column beside the charts; on a narrower page folded away until a button opens them, then three
# columns, or one on a phone.
_SIDE = """
:host { display: grid !important; grid-template-columns: minmax(0, 1fr); row-gap: 12px; align-items: start; }
:host > * { min-width: 0; }
@container (max-width: 1040px) {
  :host { display: none !important; }
  :host(.tk-open) {
    display: grid !important; grid-template-columns: repeat(3, minmax(0, 1fr)); column-gap: 24px; padding-bottom: 8px;
  }
  .tk-conditions { grid-column: 1 / -1; }
}
@container (max-width: 660px) {
  :host(.tk-open) { grid-template-columns: minmax(0, 1fr); }
}
"""


class Look:
    """The style sheets of one page; every model of a document shares them."""

    def __init__(self) -> None:
        self.widgets = InlineStyleSheet(css=_WIDGETS)
        self.list = InlineStyleSheet(css=_LIST)
        self.wrap = InlineStyleSheet(css=_WRAP)
        self.outer = InlineStyleSheet(css=_OUTER)
        self.page = InlineStyleSheet(css=_PAGE)
        self.side = InlineStyleSheet(css=_SIDE)
