"""What does a bass one-shot sound like: pitch, decay, loop points?"""
