"""What a draft is: values and their kinds, the catalogue of fields, what is known, units."""
