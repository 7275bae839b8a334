"""The frame around every page, and the wiring of what the browser keeps."""
