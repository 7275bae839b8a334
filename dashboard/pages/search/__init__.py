"""Which setup?"""
