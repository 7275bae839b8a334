"""Which gearing?"""
