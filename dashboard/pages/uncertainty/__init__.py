"""How sure?"""
