"""How far?"""
