"""How quick?"""
