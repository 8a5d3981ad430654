"""The legend of a scene in HTML: small drawn symbols with words; Matplotlib draws its own from the same items."""

from __future__ import annotations

import html
from collections.abc import Sequence
from functools import lru_cache

from tactical_kit.scenes import style
from tactical_kit.scenes.scene import KeyItem

__all__ = ["legend_html", "symbol_svg"]


@lru_cache(maxsize=64)
def symbol_svg(symbol: str) -> str:
    """Return a symbol of `KEY_SYMBOLS` as a small inline SVG; "" for "none"."""
    home, away, ink = *style.TEAM_FILL, style.INK
    square = 'x="2.5" y="2.5" width="13" height="13"'
    tip = f'<path d="M34 9 L26 5 L26 13 Z" fill="{ink}"/>'
    wave = "M2 9 q3 -7 6 0 t6 0 t6 0 t6 0"
    drawn = {
        "home": (18, f'<circle cx="9" cy="9" r="7" fill="{home}"/>'),
        "away": (18, f'<rect {square} fill="{away}"/>'),
        "ghost": (18, f'<circle cx="9" cy="9" r="7" fill="none" stroke="{style.GHOST[0]}" stroke-width="1.5"/>'),
        "ghost-away": (18, f'<rect {square} fill="none" stroke="{style.GHOST[1]}" stroke-width="1.5"/>'),
        "ball": (18, '<circle cx="9" cy="9" r="4" fill="#fff" stroke="#000" stroke-width="2"/>'),
        "pass": (36, f'<path d="M2 9 L28 9" stroke="{ink}" stroke-width="2"/>{tip}'),
        "run": (36, f'<path d="M2 9 L28 9" stroke="{ink}" stroke-width="2" stroke-dasharray="5 3"/>{tip}'),
        "dribble": (36, f'<path d="{wave}" stroke="{ink}" fill="none" stroke-width="2"/>{tip}'),
        "ramp": (70, _ramp_svg(1.0)),
        "ramp-light": (70, _ramp_svg(style.LIGHT)),
        "few": (
            18,
            f'<rect x="1" y="2" width="16" height="14" fill="{style.PAPER}" stroke="{style.MARKING}"/>'
            f'<path d="M2 15 L16 3 M2 9 L9 3 M9 15 L16 9" stroke="{style.FAINT}"/>',
        ),
    }
    if symbol not in drawn:
        return ""
    width, inside = drawn[symbol]
    return f'<svg width="{width}" height="18" aria-hidden="true" style="vertical-align:-4px">{inside}</svg>'


def _ramp_svg(top: float) -> str:
    boxes = (
        f'<rect x="{i * 14}" y="3" width="14" height="12" fill="{style.ramp((i + 0.5) / 5 * top)}"/>' for i in range(5)
    )
    return "".join(boxes)


def legend_html(items: Sequence[KeyItem]) -> str:
    """Return the legend as one wrapping line of HTML, words escaped; "" without items."""
    if not items:
        return ""
    parts = "".join(
        f'<span style="display:inline-block;margin-right:16px">{symbol_svg(i.symbol)} {html.escape(i.text)}</span> '
        for i in items
    )
    return f"<div>{parts}</div>"
