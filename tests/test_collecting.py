"""The search for garbage is put off and taken up again, however the work ends."""

from __future__ import annotations

import gc

import pytest

from pricing.collecting import uncollected


def test_it_is_taken_up_again():
    with uncollected():
        assert not gc.isenabled()
        with uncollected():
            assert not gc.isenabled()
        assert not gc.isenabled()
    assert gc.isenabled()


def test_it_is_taken_up_again_after_a_fault():
    with pytest.raises(ValueError), uncollected():
        raise ValueError
    assert gc.isenabled()


def test_who_has_put_it_off_himself_keeps_it_so():
    gc.disable()
    try:
        with uncollected():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
