"""How many cells?"""
