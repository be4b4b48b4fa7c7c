"""Which part is the bass, which hold the harmony, which are drums or melody?"""
