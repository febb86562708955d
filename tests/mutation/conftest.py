"""Not part of the ordinary tests: they need cosmic-ray, and half an hour."""

collect_ignore_glob = ["*.py"]
