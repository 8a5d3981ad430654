"""What is shown: scenes in pitch metres, and the surfaces that draw them.

A chart function makes a `Scene`; a surface (`printing` for PNG, SVG and PDF, `canvas` for the browser) draws
it.  Importing this package loads neither Matplotlib nor Bokeh: a surface does so when it is first used.
"""

from tactical_kit.scenes.scene import (
    Arrow,
    Ball,
    Disc,
    KeyItem,
    Label,
    Lane,
    Line,
    Mark,
    Scene,
    Shadow,
    Zone,
)

__all__ = ["Arrow", "Ball", "Disc", "KeyItem", "Label", "Lane", "Line", "Mark", "Scene", "Shadow", "Zone"]
