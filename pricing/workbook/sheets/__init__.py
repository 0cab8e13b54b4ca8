"""The live workbook: every figure of a costing, every quantity a formula, ready for a maker's hand."""

from pricing.workbook.sheets.writing import write_workbook

__all__ = ["write_workbook"]
