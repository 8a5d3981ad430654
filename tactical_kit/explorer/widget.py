"""The explorer as an ipywidgets widget: it stands in a `VBox` beside sliders, and `interact` can drive it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import ipywidgets
import traitlets

from tactical_kit.errors import TacticalKitError

if TYPE_CHECKING:
    from tactical_kit.explorer.app import Explorer

__all__ = ["ExplorerWidget"]


class ExplorerWidget(ipywidgets.Output, ipywidgets.ValueWidget):
    """An output area that holds the explorer, with its state as traits.

    Traits
    ------
    view : str
        The state as the text of `Explorer.view`; assigning one changes the explorer, using the explorer
        changes the trait.
    value : str
        The same under the name that `interact` asks for: `interact(f, state=explorer.as_widget())` calls
        `f(state=...)` whenever the explorer changes.
    segment : tuple of (period, start_s, end_s)
        The selected spans, () for the whole match; works both ways, too.

    Raises
    ------
    TraitError
        A view or segment that cannot be read or does not fit the match; the state stays as it was.
    """

    view = traitlets.Unicode()
    value = traitlets.Unicode()
    segment = traitlets.Tuple()

    def __init__(self, explorer: Explorer, **layout: Any) -> None:
        self._explorer = explorer
        self._following = True  # until the traits hold the state of the explorer
        super().__init__(**layout)
        self._follow(frozenset())
        self._forget = explorer.store.listen(self._follow)
        self.append_display_data(explorer)

    @property
    def explorer(self) -> Explorer:
        """The explorer inside."""
        return self._explorer

    def _follow(self, what: frozenset[str]) -> None:
        self._following = True
        try:
            with self.hold_trait_notifications():
                self.view = self.value = self._explorer.store.view
                self.segment = self._explorer.store.selection.segment or ()
        finally:
            self._following = False

    @traitlets.validate("view", "value")
    def _valid_view(self, proposal: Any) -> str:
        if self._following:
            return str(proposal["value"])
        try:
            self._explorer.store.apply_view(proposal["value"])
        except TacticalKitError as error:
            raise traitlets.TraitError(str(error)) from error
        return self._explorer.store.view

    @traitlets.validate("segment")
    def _valid_segment(self, proposal: Any) -> tuple[Any, ...]:
        if self._following:
            return tuple(proposal["value"])
        try:
            self._explorer.store.change(segment=tuple(proposal["value"]) or None)
        except TacticalKitError as error:
            raise traitlets.TraitError(str(error)) from error
        return self._explorer.store.selection.segment or ()

    def close(self) -> None:
        """Take the widget from the page and stop following the explorer."""
        self._forget()
        super().close()
