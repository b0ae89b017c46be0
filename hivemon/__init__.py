"""hivemon: from what a hive weighs and how warm its brood is, to what a beekeeper should do, or leave alone."""

__version__ = "0.1.0"
