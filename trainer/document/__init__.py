"""What a report says, as a value; and the writers that put it into lines, into data, into HTML."""
