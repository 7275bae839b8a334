"""The pages, a question each, in the order of the bar; to add one, see ``shell.registry``."""
