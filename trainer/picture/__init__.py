"""The engraved picture: bars of a score as MEI, as a drawing, and as a picture in a terminal."""
