"""What every room of the dashboard uses: names of parts, colours, words. No Dash."""
