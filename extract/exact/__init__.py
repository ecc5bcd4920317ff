"""Parts to exact values: digits, fractions, numbers, quantities, dates, codes. No field name."""
