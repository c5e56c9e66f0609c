"""Busweave from the command line."""


def main() -> int:
    """Run the command; return its exit code."""
    return 0
