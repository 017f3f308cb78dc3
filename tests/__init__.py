"""Tests, mirroring the package. A package itself so that `tests.good_project` is found whatever else is installed."""
