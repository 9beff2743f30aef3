"""What two parents may have: gametes, young, clutches."""
