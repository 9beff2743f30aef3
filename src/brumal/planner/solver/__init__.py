"""The season as a mixed-integer programme, solved to a stated gap."""
