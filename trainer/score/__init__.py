"""What is written: a score as frozen values, and the one reader that makes them."""
