"""A second implementation, slow and simple, written from the model's and the job file's pages.

It shares no code with the tool, works in extended precision, and knows one method only: try
currents on ever finer grids and keep what every inequality allows. What the tool says is compared
with it on random jobs.
"""
