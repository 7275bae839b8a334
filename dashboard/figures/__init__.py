"""Results in, figures out: plain Plotly trees that ``go.Figure`` accepts. No Dash here."""
