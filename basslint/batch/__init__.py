"""Many files: which ones, on how many processes, what is known already?"""
