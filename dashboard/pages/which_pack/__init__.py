"""Which pack?"""
