"""Reports: values in, rows out, for screen, file and print."""
