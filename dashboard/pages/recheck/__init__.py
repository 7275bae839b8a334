"""Does it agree?"""
