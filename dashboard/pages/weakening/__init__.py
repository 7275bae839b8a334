"""How much weakening?"""
