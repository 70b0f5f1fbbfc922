"""Command palette: go anywhere, find any job, do anything a key does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, cast

from textual.command import DiscoveryHit, Hit, Hits, Provider
from textual.content import Content

from solderrisk.tui.places import PLACES
from solderrisk.tui.screens.base import PlaceScreen

if TYPE_CHECKING:
    from solderrisk.tui.program import Program

MOST_JOBS = 40


class Commands(Provider):
    """Places, the keys of the place at hand, and every job by its reference."""

    @property
    def _app(self) -> Program:
        return cast("Program", self.app)

    def _fixed(self) -> Iterator[tuple[str, str, Callable[[], object]]]:
        app = self._app
        for place in PLACES:
            yield f"Go to {place.label}", place.purpose, partial(app.action_go, place.name)
        yield (
            "Open a kit or a source",
            "kit, bill of materials, board file",
            partial(app.run_action, "app.open"),
        )
        if isinstance(self.screen, PlaceScreen):
            report = self.screen.action_report
            yield "Write a report", "page that prints, text, rows or data", report
        yield (
            "Help for this place",
            "what it shows and its keys",
            partial(app.run_action, "app.help"),
        )
        for active in self.screen.active_bindings.values():
            binding = active.binding
            if active.node is self.screen and binding.description:
                key = binding.key_display or app.get_key_display(binding)
                yield (
                    binding.description,
                    f"key {key}",
                    partial(self.screen.run_action, binding.action),
                )

    async def discover(self) -> Hits:
        for title, help_text, command in self._fixed():
            yield DiscoveryHit(title, command, help=help_text)

    async def search(self, query: str) -> Hits:
        matcher = self.matcher(query)
        for title, help_text, command in self._fixed():
            if (score := matcher.match(title)) > 0:
                yield Hit(score, matcher.highlight(title), command, help=help_text)
        shown = self._app.shown
        want = query.casefold().strip()
        if shown is None or not want:
            return
        for rank, row in enumerate(shown.about(query)[:MOST_JOBS]):
            exact = 1.0 if row.name.casefold() == want else 0.5
            yield Hit(
                exact - rank * 1e-4,
                Content(f"{row.band.mark} {row.name}"),
                partial(self._app.look_at, row.key),
                # As content: a part's value is never markup.
                help=cast("str", Content(f"{row.part}, {row.technique}")),
            )
