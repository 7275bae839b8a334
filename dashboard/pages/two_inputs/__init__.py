"""What do any two inputs make of a result?"""
