"""What does a sampled loop sound: its tuning, tempo and bars, its soft notes, roots and glides?"""
