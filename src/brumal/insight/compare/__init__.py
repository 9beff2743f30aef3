"""What-ifs side by side."""
