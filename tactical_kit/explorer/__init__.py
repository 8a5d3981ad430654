"""The explorer: time line, filters, finders, linked charts and the moving pitch, in JupyterLab or as a local page."""

from tactical_kit.explorer.app import Explorer, explore
from tactical_kit.explorer.claiming import sheet_beside
from tactical_kit.explorer.serve import serve
from tactical_kit.explorer.store import Store

__all__ = ["Explorer", "Store", "explore", "serve", "sheet_beside"]
