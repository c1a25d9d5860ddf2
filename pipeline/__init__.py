"""setledger: exported strength-training logs, turned into the review a good coach would make."""

__version__ = "0.1.0"
