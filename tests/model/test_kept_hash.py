"""Models keep their hash; copies and pickles must not carry a stale one along."""

from __future__ import annotations

import copy
import pickle

from solderrisk.model.bench import Iron, Tip


def test_equal_models_hash_alike_whether_hashed_before_or_not() -> None:
    hashed, fresh = Tip(width_mm=1.6), Tip(width_mm=1.6)
    hash(hashed)
    assert hashed == fresh
    assert fresh == hashed
    assert hash(hashed) == hash(fresh)


def test_a_changed_copy_gets_its_own_hash() -> None:
    tip = Tip(width_mm=1.6)
    hash(tip)
    wide = tip.model_copy(update={"width_mm": 3.0})
    assert wide == Tip(width_mm=3.0)
    assert hash(wide) == hash(Tip(width_mm=3.0))
    assert hash(wide) != hash(tip)


def test_a_kept_hash_shows_nowhere() -> None:
    iron = Iron(name="a", drive="station", power_w=60.0, tips=(Tip(width_mm=1.0),))
    before = iron.model_dump(), repr(iron), pickle.dumps(iron)
    hash(iron)
    assert (iron.model_dump(), repr(iron), pickle.dumps(iron)) == before
    assert copy.deepcopy(iron) == iron
    assert copy.copy(iron) == iron
