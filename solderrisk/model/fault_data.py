"""Fault modes: how each one is seen, mended, and what it costs when it is not."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from solderrisk.model.base import Frozen, Many, Share, Source, Text

Severity = Literal["cosmetic", "mendable", "kills_part", "kills_board"]


class FaultMode(Frozen):
    """One way a joint or a part goes wrong; its base rate is in ``risk.yaml``.

    ``seen``: share found by looking well, with enough magnification. ``measured``: share
    found by a continuity check. ``harm``: chance that one left alone keeps the board from
    working. ``part_share``: chance that it ruins the part at once. ``powered_share``:
    chance that it ruins the part when power comes on with the fault unseen.
    """

    id: Text
    title: Text
    per: Literal["gap", "joint", "barrel", "part", "lead"]
    severity: Severity
    seen: Share
    measured: Share
    harm: Share
    part_share: Share = 0.0
    powered_share: Share = 0.0
    mend_minutes: float = Field(ge=0, le=600)
    source: Source
    own: Many[Text] = Field((), description="figures set by the user")


class FaultData(Frozen):
    """``faults.yaml``."""

    modes: Many[FaultMode] = Field(min_length=1)

    def __getitem__(self, mode_id: str) -> FaultMode:
        """The mode of an id.

        Raises:
            KeyError: no such mode.
        """
        for mode in self.modes:
            if mode.id == mode_id:
                return mode
        raise KeyError(f"no fault mode {mode_id!r}; there are {[m.id for m in self.modes]}")
