"""Acceptance statistics as pure functions of numbers: no files, no project, no clock; importable on its own."""
