"""The charts: each turns a result of `measures`, or an instant, into a Scene; none computes a number of its own."""

from tactical_kit.scenes.instant_chart import snapshot_scene
from tactical_kit.scenes.network_chart import network_scene
from tactical_kit.scenes.zone_charts import pressure_scene, progression_scene

__all__ = ["network_scene", "pressure_scene", "progression_scene", "snapshot_scene"]
