"""What motor is it?"""
