"""Parts to exact values: numbers, quantities, dates, grades, codes. No field name."""
