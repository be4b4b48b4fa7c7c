"""What does a bass one-shot sound like: pitch, decay, loop points?"""

__all__ = ["one_shot", "opening", "root_key"]
