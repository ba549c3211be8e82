"""Pages to print: values to the text of one file."""
