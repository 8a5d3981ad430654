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

_WRAP = """
:host { flex-wrap: wrap; row-gap: 4px; column-gap: 6px; align-items: center; }
"""

_OUTER = f"""
:host {{ container-type: inline-size; background: {style.PAPER}; width: 100%; }}
"""

# One page: a wide one has the filters beside the moving pitch and the moments, a narrow one everything in one column.
_PAGE = f"""
:host {{
  display: grid !important; box-sizing: border-box; width: 100%; background: {style.PAPER}; color: {style.INK};
  grid-template-columns: 272px minmax(0, 1fr) minmax(0, 1fr); column-gap: 22px; row-gap: 12px; padding: 14px 18px;
  grid-template-areas: "head head head" "line line line" "picks picks picks" "said said said"
    "side move list" "find find find" "more more more" "charts charts charts" "foot foot foot";
  align-items: start;
}}
.tk-head {{ grid-area: head; }}
.tk-line {{ grid-area: line; }}
.tk-picks {{ grid-area: picks; }}
.tk-said {{ grid-area: said; }}
.tk-side {{ grid-area: side; }}
.tk-fold {{ display: none; grid-area: fold; }}
.tk-moments {{ grid-area: list; }}
.tk-find {{ grid-area: find; }}
.tk-more {{ grid-area: more; }}
.tk-move {{ grid-area: move; }}
.tk-charts {{ grid-area: charts; }}
.tk-foot {{ grid-area: foot; }}
:host > * {{ min-width: 0; }}
@container (max-width: 1040px) {{
  :host {{
    grid-template-columns: minmax(0, 1fr); padding: 10px 12px;
    grid-template-areas: "head" "line" "picks" "said" "fold" "side" "move" "list" "find" "more" "charts" "foot";
  }}
  .tk-fold {{ display: flex; }}
}}
"""

# The three charts: side by side, on a narrower page the one that is picked.
_CHARTS = f"""
:host {{
  display: grid !important; grid-template-columns: repeat(3, minmax(0, 1fr)); gap: 14px 22px; align-items: start;
  border-top: 1px solid {_LINE}; padding-top: 12px;
}}
:host > * {{ min-width: 0; }}
.tk-chart-pick {{ display: none; }}
@container (max-width: 1040px) {{
  :host {{ grid-template-columns: minmax(0, 1fr); }}
  .tk-chart-pick {{ display: flex; }}
  :host > .tk-chart {{ display: none !important; }}
  :host(:not(.tk-show-1, .tk-show-2)) > .tk-net, :host(.tk-show-1) > .tk-prog, :host(.tk-show-2) > .tk-pres {{
    display: flex !important;
  }}
}}
"""

# A small pitch beside the filters on the finder's numbers.
_FIND = f"""
:host {{
  display: grid !important; grid-template-columns: 290px minmax(0, 1fr); gap: 12px 22px; align-items: start;
  border-top: 1px solid {_LINE}; padding-top: 12px;
}}
:host > * {{ min-width: 0; }}
@container (max-width: 660px) {{ :host {{ grid-template-columns: minmax(0, 1fr); }} }}
"""

# What a button unfolds: both halves beside what is said of them; a claim beside its verdict.
_HALVES = """
:host { display: none !important; }
:host(.tk-open) {
  display: grid !important; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr) minmax(0, 1.4fr); gap: 12px 22px;
  align-items: start; padding: 4px 0 10px;
}
:host > * { min-width: 0; }
@container (max-width: 1040px) {
  :host(.tk-open) { grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); }
  :host > .tk-told { grid-column: 1 / -1; }
}
"""
_CLAIM = """
:host { display: none !important; }
:host(.tk-open) {
  display: grid !important; grid-template-columns: minmax(0, 1fr) minmax(0, 1fr); gap: 8px 22px; align-items: start;
  padding: 4px 0 10px;
}
:host > * { min-width: 0; }
:host > .tk-sheet { grid-column: 1 / -1; }
@container (max-width: 660px) { :host(.tk-open) { grid-template-columns: minmax(0, 1fr); } }
"""
_LEFT = ".bk-btn { text-align: left; justify-content: flex-start; font-weight: bold; }"

# Forms and tables that are written as HTML.
_FORM = f"""
:host {{ container-type: inline-size; font: 13px/1.4 {FONT}; color: {style.INK}; width: 100%; }}
.bk-clearfix {{ display: block !important; width: 100%; font: 13px/1.4 {FONT}; color: {style.INK}; }}
h2 {{ font: bold 15px {FONT}; margin: 0; display: inline-block; }}
h3 {{ font: bold 13px {FONT}; margin: 0; }}
p {{ margin: 2px 0; }}
i {{ font-style: normal; color: {style.FAINT}; font-size: 12px; font-weight: normal; }}
.faint, .off {{ color: {style.FAINT}; font-size: 12px; }}
.alert {{ background: #f6dfd3; border-left: 4px solid #a3360b; padding: 6px 10px; }}
[data-busy]:not([hidden]) {{ border-left: 4px solid {style.INK}; padding-left: 8px; }}
button, select, input[type="text"], textarea {{
  background: {style.PAPER}; color: {style.INK}; border: 1px solid {_LINE}; border-radius: 2px; font: 13px {FONT};
  padding: 3px 7px; min-height: 28px; box-sizing: border-box; max-width: 100%;
}}
select, input[type="text"], textarea {{ background: #fffdf7; }}
button {{ cursor: pointer; }}
button:hover:not([disabled]) {{ background: #efe8d8; }}
button[disabled] {{ opacity: 0.45; cursor: default; }}
button.strong {{ background: {style.INK}; color: {style.PAPER}; border-color: {style.INK}; }}
button.strong:hover:not([disabled]) {{ background: #55504a; }}
button.plain {{ border: 0; padding: 0; min-height: 0; text-decoration: underline; background: none; }}
:is(button, select, input, summary):focus-visible {{ outline: 2px solid {style.INK}; outline-offset: 1px; }}
input[type="checkbox"] {{
  accent-color: {style.INK}; width: 15px; height: 15px; vertical-align: -2px; margin: 2px 3px 2px 0;
}}
summary {{ cursor: pointer; padding: 2px 0; }}
.line {{ display: flex; flex-wrap: wrap; gap: 6px; align-items: center; margin: 4px 0; }}
.offers {{ margin: 4px 0; padding: 0; list-style: none; font-size: 12px; max-height: 300px; overflow-y: auto; }}
.offers li {{ padding: 2px 0; }}
.scroll {{ overflow-x: auto; }}
table {{ border-collapse: collapse; width: 100%; font: 12px/1.3 {FONT}; font-variant-numeric: tabular-nums; }}
th {{
  text-align: left; font-weight: normal; color: {style.FAINT}; padding: 2px 12px 2px 0; vertical-align: bottom;
  border-bottom: 1px solid {_LINE};
}}
td {{ padding: 0 12px 0 0; border-bottom: 1px solid #e8e1d2; height: 26px; }}
.n {{ text-align: right; }}
td.n {{ white-space: nowrap; }}
tr[data-ask] {{ cursor: pointer; }}
tr[data-ask]:hover td {{ background: #efe8d8; }}
tr.picked td {{ background: #e0d3b6; }}
.rows td:first-child button {{ border: 0; background: none; padding: 2px 4px; font: inherit; min-height: 24px; }}
.rows td:not(:first-child) {{ overflow: hidden; text-overflow: ellipsis; max-width: 120px; white-space: nowrap; }}
.mark {{ display: inline-block; width: 10px; height: 10px; margin-right: 5px; vertical-align: -1px; }}
.c2, .c3, .c4, .c5, .c6, .c7, .c8 {{ display: none; }}
@container (min-width: 340px) {{ .c2 {{ display: table-cell; }} }}
@container (min-width: 400px) {{ .c3 {{ display: table-cell; }} }}
@container (min-width: 500px) {{ .c4 {{ display: table-cell; }} }}
@container (min-width: 580px) {{ .c5 {{ display: table-cell; }} }}
@container (min-width: 660px) {{ .c6 {{ display: table-cell; }} }}
@container (min-width: 820px) {{ .c7, .c8 {{ display: table-cell; }} }}
dl {{ columns: 2 220px; column-gap: 20px; margin: 4px 0; font-size: 12px; }}
dl div {{ break-inside: avoid; display: flex; justify-content: space-between; gap: 8px; padding: 1px 0; }}
dt {{ color: {style.FAINT}; }}
dd {{ margin: 0; text-align: right; flex-shrink: 0; max-width: 60%; }}
.fields {{
  display: grid; grid-template-columns: repeat(auto-fill, minmax(190px, 1fr)); gap: 10px 18px; padding-top: 6px;
}}
fieldset {{ border: 0; padding: 0; margin: 0; min-width: 0; }}
legend {{ font: bold 12px/1.3 {FONT}; padding: 0; }}
fieldset label {{ display: block; font-size: 12px; overflow-wrap: anywhere; }}
fieldset details[open] {{ max-height: 260px; overflow-y: auto; }}
fieldset summary {{ font-size: 12px; color: {style.FAINT}; }}
label.none {{ color: {style.FAINT}; }}
.count {{ color: {style.FAINT}; font-variant-numeric: tabular-nums; }}
.bars {{
  width: 100%; height: 30px; display: block; border-bottom: 1px solid {_LINE}; cursor: crosshair; touch-action: pan-y;
  fill: {style.MARKING}; margin: 2px 0 3px;
}}
.bars .veil {{ fill: {style.PAPER}; fill-opacity: 0.72; }}
.bars line {{ stroke: {style.INK}; stroke-width: 2; vector-effect: non-scaling-stroke; }}
.ends {{ display: flex; gap: 5px; align-items: center; font-size: 12px; }}
.ends input {{ width: 62px; }}
.ends input::placeholder {{ color: {style.FAINT}; opacity: 1; }}
.drops button {{ background: {style.INK}; color: {style.PAPER}; font-size: 12px; min-height: 26px; }}
.drops button:hover {{ background: #55504a !important; }}
.thresholds {{
  display: grid; grid-template-columns: repeat(auto-fill, minmax(250px, 1fr)); gap: 6px 20px; padding: 4px 0;
}}
.bars.tall {{ height: 46px; cursor: default; }}
.strips {{ display: grid; gap: 4px; }}
.scale {{ display: flex; justify-content: space-between; font-size: 12px; color: {style.FAINT}; }}
.shares {{ width: 100%; table-layout: auto; }}
.shares td:first-child {{ max-width: 150px; overflow-wrap: anywhere; }}
.bar {{ width: 26%; }}
.bar span {{ display: block; height: 12px; background: {style.MARKING}; }}
form.claim {{ display: grid; gap: 6px; }}
form.claim label {{ font-size: 12px; font-weight: bold; }}
form.claim fieldset label {{ font-weight: normal; }}
form.claim :is(input[type="text"], select) {{ display: block; width: 100%; font-weight: normal; margin-top: 2px; }}
.verdict {{ border-left: 4px solid {style.INK}; padding-left: 8px; font-size: 15px; }}
code {{ font-size: 12px; overflow-wrap: anywhere; }}
.against button {{ font-variant-numeric: tabular-nums; }}
.thresholds label {{ font-weight: bold; font-size: 12px; display: block; }}
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
        self.wrap = InlineStyleSheet(css=_WRAP)
        self.outer = InlineStyleSheet(css=_OUTER)
        self.page = InlineStyleSheet(css=_PAGE)
        self.side = InlineStyleSheet(css=_SIDE)
        self.charts = InlineStyleSheet(css=_CHARTS)
        self.find = InlineStyleSheet(css=_FIND)
        self.halves = InlineStyleSheet(css=_HALVES)
        self.claim = InlineStyleSheet(css=_CLAIM)
        self.left = InlineStyleSheet(css=_LEFT)
        self.form = InlineStyleSheet(css=_FORM)
