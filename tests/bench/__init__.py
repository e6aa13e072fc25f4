"""Measurements, apart from the tests: ``make bench``. Ratios are taken within one run; the table goes into the docs."""
