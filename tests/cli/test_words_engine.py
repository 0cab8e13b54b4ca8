"""`troytag words --engine` says who computes."""


def test_it_is_told(troytag, monkeypatch):
    monkeypatch.setenv("TROYTAG_COMPILER", "off")
    ran = troytag("words", "--engine")
    assert (ran.code, ran.out) == (0, "numpy computes everything: TROYTAG_COMPILER is off.\n")
