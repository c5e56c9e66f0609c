"""Carries layouts in and out: DXF, tables, drawings, report."""
