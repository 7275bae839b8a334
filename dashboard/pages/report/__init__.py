"""What do I hand over?"""
