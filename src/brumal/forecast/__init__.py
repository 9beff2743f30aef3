"""What a pairing should bring: weight, clutch, dates, value of the young."""
