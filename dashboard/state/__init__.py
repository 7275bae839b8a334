"""What the browser keeps: the job and its edits, the view, files sent. No Dash."""
