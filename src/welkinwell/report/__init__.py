"""What people read: tables, charts and one HTML document that opens without a network."""
