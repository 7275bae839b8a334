"""Does it stay cool?"""
