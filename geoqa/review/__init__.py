"""What happens to results afterwards: they are verified, and traced to the rows they come from."""
