"""A keeper's own workbook read as it is: tables for a season folder, and questions."""
