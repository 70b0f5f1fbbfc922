"""Solder alloys: composition, melting range, density, and what their mixtures need."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from solderrisk.model.base import Frozen, Many, Source, Text

Percent = Annotated[float, Field(gt=0, le=100)]
Celsius = Annotated[float, Field(ge=-50, le=1500)]


class Element(Frozen):
    """A pure metal, as a part of an alloy."""

    melts_c: Celsius
    fusion_j_mol: float = Field(gt=0)
    molar_g: float = Field(gt=0)
    source: Source


class Pair(Frozen):
    """How two metals in one melt act on each other (regular solution), J/mol."""

    metals: Annotated[tuple[str, str], Field(strict=False)]
    interaction_j_mol: float
    source: Source


class SolidShare(Frozen):
    """How much a primary crystal of one metal dissolves: the log of its activity falls by
    ``per_share`` times the mole share of the other metals in the melt."""

    metal: str
    per_share: Annotated[float, Field(ge=0, le=1)]
    source: Source


class Alloy(Frozen):
    """One alloy; ``parts`` in percent by mass."""

    name: Text
    aliases: Many[Text] = ()
    parts: dict[str, Percent] = Field(min_length=1)
    solidus_c: Celsius
    liquidus_c: Celsius
    density_g_cm3: float = Field(gt=0)
    latent_j_g: float = Field(gt=0)
    heat_j_gk: float = Field(gt=0)
    conductivity_w_mk: float = Field(gt=0)
    removal: bool = Field(False, description="sold for taking parts off, not for joints")
    caution: str = ""
    source: Source
    thermal_source: Source

    @model_validator(mode="after")
    def _whole(self) -> Self:
        total = sum(self.parts.values())
        if abs(total - 100) > 0.5:
            raise ValueError(f"{self.name}: parts add up to {total:g} %")
        if self.solidus_c > self.liquidus_c:
            raise ValueError(f"{self.name}: solidus above liquidus")
        return self

    @property
    def leaded(self) -> bool:
        return self.parts.get("Pb", 0.0) > 0.1


def _key(name: str) -> str:
    return name.casefold().replace(" ", "").replace("-", "")


class Alloys(Frozen):
    """``alloys.yaml``."""

    alloys: Many[Alloy] = Field(min_length=1)
    elements: dict[str, Element]
    pairs: Many[Pair] = ()
    solids: Many[SolidShare] = ()

    @model_validator(mode="after")
    def _known_metals(self) -> Self:
        for alloy in self.alloys:
            for metal in alloy.parts:
                if metal not in self.elements:
                    raise ValueError(f"{alloy.name}: no element {metal!r} in the file")
        return self

    def get(self, name: str) -> Alloy | None:
        """The alloy of a name or alias, without regard to case, spaces and hyphens."""
        key = _key(name)
        for alloy in self.alloys:
            if key == _key(alloy.name) or any(key == _key(alias) for alias in alloy.aliases):
                return alloy
        return None

    def __getitem__(self, name: str) -> Alloy:
        """Like ``get``.

        Raises:
            KeyError: no such alloy; the message names those there are.
        """
        found = self.get(name)
        if found is None:
            raise KeyError(f"no alloy {name!r}; there are {[alloy.name for alloy in self.alloys]}")
        return found
