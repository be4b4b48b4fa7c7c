"""One file per question that a trained ear answers, each answer with its certainty."""

__all__ = ["chart", "facts", "memo"]
