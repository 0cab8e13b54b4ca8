"""Would a mistake be noticed? Small ones are put into the arithmetic, one at a time; the tests must tell each."""
