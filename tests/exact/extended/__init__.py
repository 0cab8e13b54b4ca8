"""The whole cost model in exact fractions: parts, sizes, plating, castings bought, channels abroad, quotations."""
