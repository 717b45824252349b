"""Entry point of the command line."""

from __future__ import annotations

__all__ = ["main"]


def main() -> None:
    """Run the command line."""
    from feelcheck.cli import app

    app()


if __name__ == "__main__":
    main()
