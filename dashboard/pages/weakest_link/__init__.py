"""What gives first?"""
