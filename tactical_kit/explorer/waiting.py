"""What a page of the server shows while the browser still makes the explorer: its layout in outline, and words."""

from __future__ import annotations

from typing import Any

from tactical_kit.explorer.look import FONT
from tactical_kit.match import Match
from tactical_kit.scenes import style

__all__ = ["show_waiting"]

_LINE = style.mix(style.INK, style.PAPER, 0.72)
# The outline stands before the scripts, so that it is painted before they are read.
_TEMPLATE = f"""
{{% block postamble %}}
<style>
  body {{ background: {style.PAPER}; color: {style.INK}; margin: 0; }}
  #tk-waiting {{
    position: absolute; inset: 0 0 auto 0; padding: 14px 18px; font: 16px/1.5 {FONT}; box-sizing: border-box;
    display: grid; grid-template-columns: 272px 1fr 1fr; gap: 22px;
  }}
  #tk-waiting > header, #tk-waiting > .line {{ grid-column: 1 / -1; }}
  #tk-waiting h1 {{ font-size: 21px; margin: 0; }}
  #tk-waiting i {{ border: 1px solid {_LINE}; border-radius: 2px; display: block; }}
  #tk-waiting .line {{ height: 220px; }}
  #tk-waiting .pitch {{ aspect-ratio: 3 / 2; }}
  #tk-waiting .side {{ grid-row: span 2; }}
  @media (max-width: 1040px) {{
    #tk-waiting {{ grid-template-columns: 1fr; }}
    #tk-waiting .side {{ display: none; }}
  }}
</style>
{{% endblock %}}
{{% block js_resources %}}{{% endblock %}}
{{% block contents %}}
<div id="tk-waiting" role="status">
  <header><h1>{{{{ waiting_title | e }}}}</h1>reading the match …</header>
  <i class="line"></i><i class="side"></i>
  <i class="pitch"></i><i class="pitch"></i><i class="pitch"></i><i class="pitch"></i>
</div>
{{{{ super() }}}}
{{{{ bokeh_js }}}}
{{% endblock %}}
"""


def show_waiting(document: Any, match: Match) -> None:
    """Let the page of a document show its outline until it is made.

    Parameters
    ----------
    document : bokeh Document
        Of a session of a server.
    match : Match
        Named in the outline.
    """
    document.template = _TEMPLATE
    document.template_variables["waiting_title"] = f"{match.home.name} v {match.away.name}"
