"""reportgen: bench-test evidence for medical devices, from lab files to bound documents."""

__version__ = "0.1.0"
