"""Pictures and documents that are handed to somebody."""
