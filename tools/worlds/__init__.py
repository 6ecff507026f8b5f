"""A second, independent renderer of core-face photographs with known truth."""
